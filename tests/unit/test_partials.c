/* Partials: harmonics have their levels, however low the note, and however long it has been listening. */
#include "partials.h"
#include "singer.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "figure.h"

enum { MOST_PIECES = 400 };

/* Pieces of the take; returns how many. */
static uint32_t listen(Partials *p, const SingerTake *take, PartialsPiece *piece)
{
    uint32_t pieces = 0;
    for (uint32_t at = 0; at + DSP_CELL <= take->frames && pieces < MOST_PIECES; at += DSP_CELL) {
        memset(&piece[pieces], 0, sizeof piece[pieces]);
        pieces += partials_tick(p, &piece[pieces]);
        partials_process(p, take->audio + at, DSP_CELL);
    }
    return pieces;
}

/* Level of a harmonic, dB: no two neighbours alike, so that what leaks from one into the next is seen. */
static double planted_db(uint32_t k)
{
    return (k % 2 ? -12.0 : 0.0) - 1.5 * k;
}

static void harmonics_have_their_levels(void **state)
{
    (void)state;
    static const double notes[] = {82.41, 98.0, 220.0, 440.0};
    const double rate = 48000.0;
    double worst = 0.0;
    for (size_t i = 0; i < sizeof notes / sizeof *notes; ++i) {
        SingerTake take = {.frames = 48000, .rate = rate};
        take.audio = calloc(take.frames, sizeof *take.audio);
        assert_non_null(take.audio);
        for (uint32_t k = 0; notes[i] * (k + 1) < 4000.0; ++k)
            for (uint32_t f = 0; f < take.frames; ++f)
                take.audio[f] += (float)(0.1 * pow(10.0, planted_db(k) / 20.0) *
                                         sin(2.0 * DSP_PI * notes[i] * (k + 1) * f / rate + 0.7 * k * k));
        Partials p;
        static PartialsPiece piece[MOST_PIECES];
        assert_true(partials_init(&p, rate));
        const uint32_t pieces = listen(&p, &take, piece);
        assert_true(pieces > 0);
        const PartialsPiece *middle = &piece[pieces / 2];
        assert_true(fabs(middle->hz / notes[i] - 1.0) < 0.002);
        assert_true(middle->count >= 3);
        for (uint32_t k = 1; k < middle->count && notes[i] * (k + 1) < 1500.0; ++k)
            worst = fmax(worst, fabs(middle->level[k] - middle->level[0] - planted_db(k) + planted_db(0)));
        partials_done(&p);
        free(take.audio);
    }
    figure_at_most("Tone", "level of a harmonic under 1.5 kHz, to the first: error", worst, 0.05, "dB",
                   "our own limit");
}

/* Sound with something behind it that nobody may touch. */
typedef struct {
    Partials p;
    double behind[4];
} Guarded;

typedef struct {
    PartialsPiece piece;
    double behind[4];
} GuardedPiece;

/* A note so low that more harmonics than are kept lie under PARTIALS_HIGHEST: as many are measured as there is room
 * for, each has its level up to the last, and nothing behind them is written. */
static void a_low_note_fills_every_harmonic_and_no_more(void **state)
{
    (void)state;
    static const double hz = 84.0, untouched[4] = {1.25, 2.5, 5.0, 10.0};
    static float x[96000];
    static Guarded g;
    GuardedPiece got;
    double worst = 0.0;
    uint32_t pieces = 0;
    for (uint32_t k = 0; hz * (k + 1) < 4000.0; ++k)
        for (uint32_t f = 0; f < 96000; ++f)
            x[f] += (float)(0.02 * sin(2.0 * DSP_PI * hz * (k + 1) * f / 48000.0 + 0.7 * k * k));
    memset(&got, 0, sizeof got);
    assert_true(partials_init(&g.p, 48000.0));
    memcpy(g.behind, untouched, sizeof untouched);
    memcpy(got.behind, untouched, sizeof untouched);
    for (uint32_t at = 0; at < 96000; at += DSP_CELL) {
        if (partials_tick(&g.p, &got.piece) && ++pieces > 1) {
            assert_int_equal(got.piece.count, PARTIALS_MOST);
            for (uint32_t k = 0; k < PARTIALS_MOST; ++k)
                worst = fmax(worst, fabs(got.piece.level[k] - 20.0 * log10(0.02 / sqrt(2.0))));
        }
        partials_process(&g.p, x + at, DSP_CELL);
    }
    assert_true(pieces > 2);
    assert_memory_equal(g.behind, untouched, sizeof untouched);
    assert_memory_equal(got.behind, untouched, sizeof untouched);
    partials_done(&g.p);
    figure_at_most("Tone", "level of each of 20 harmonics of 84 Hz: error", worst, 0.15, "dB", "our own limit");
}

static SingerTake silence(double seconds)
{
    SingerTake take = {.frames = (uint32_t)(seconds * 16000.0), .rate = 16000.0};
    take.audio = calloc(take.frames, sizeof *take.audio);
    assert_non_null(take.audio);
    return take;
}

/* Eight harmonics of a note from `start` on, until `held`; from there to `end` it rings off by 400 dB a second. */
static void add_note(SingerTake *take, double hz, double gain, double start, double held, double end)
{
    for (uint32_t f = (uint32_t)(start * take->rate); f < end * take->rate; ++f) {
        const double t = f / take->rate, fallen = gain * pow(10.0, -20.0 * fmax(t - held, 0.0));
        for (uint32_t k = 0; k < 8; ++k)
            take->audio[f] += (float)(fallen * sin(2.0 * DSP_PI * hz * (k + 1) * t + k * k));
    }
}

/* Three notes, a second each, that ring off into digital silence. */
static SingerTake ringing(double gain)
{
    static const double notes[] = {110.0, 165.0, 220.0};
    SingerTake take = silence(3.0);
    for (uint32_t n = 0; n < 3; ++n)
        add_note(&take, notes[n], 0.1 * gain, n, n + 0.4, n + 0.9);
    return take;
}

static double loudest_of(const PartialsPiece *piece)
{
    double loudest = piece->level[0];
    for (uint32_t k = 1; k < piece->count; ++k)
        loudest = fmax(loudest, piece->level[k]);
    return loudest;
}

/* What is followed of a note that rings off, down to 30 dB under it, depends on the note, not on how loud the take is.
 */
static void quiet_takes_give_the_same_pieces(void **state)
{
    (void)state;
    static PartialsPiece loud[MOST_PIECES], quiet[MOST_PIECES];
    uint32_t pieces[2] = {0};
    for (int i = 0; i < 2; ++i) {
        SingerTake take = ringing(i ? 0.001 : 1.0);
        Partials p;
        assert_true(partials_init(&p, take.rate));
        pieces[i] = listen(&p, &take, i ? quiet : loud);
        partials_done(&p);
        free(take.audio);
    }
    assert_true(pieces[0] >= 3);
    assert_int_equal(pieces[0], pieces[1]);
    double off = 0.0, least = loudest_of(&loud[0]), most = least;
    for (uint32_t i = 0; i < pieces[0]; ++i) {
        assert_int_equal(loud[i].count, quiet[i].count);
        for (uint32_t k = 0; k < loud[i].count && k < 8; ++k)
            off = fmax(off, fabs(loud[i].level[k] - quiet[i].level[k] - 60.0));
        least = fmin(least, loudest_of(&loud[i]));
        most = fmax(most, loudest_of(&loud[i]));
    }
    figure_at_most("Tone", "60 dB quieter: levels of harmonics differ by", off, 1e-5, "dB", "our own limit");
    figure_at_most("Tone", "quietest piece of notes of one level that ring off, to the loudest", most - least, 30.0,
                   "dB", "our own limit");
}

/* 50 dB under what came before: no tail for long. It is 20 dB under what is listened to, and 6 dB a second are
 * forgotten. */
static void a_quiet_verse_is_heard_after_a_shout(void **state)
{
    (void)state;
    static PartialsPiece piece[MOST_PIECES];
    SingerTake take = silence(6.0);
    Partials p;
    add_note(&take, 220.0, 0.3, 0.0, 0.8, 1.0);
    add_note(&take, 165.0, 0.3 * pow(10.0, -50.0 / 20.0), 1.2, 6.0, 6.0);
    assert_true(partials_init(&p, take.rate));
    const uint32_t pieces = listen(&p, &take, piece);
    uint32_t heard = 0;
    for (uint32_t i = 0; i < pieces; ++i)
        heard += fabs(piece[i].hz / 165.0 - 1.0) < 0.01 ? piece[i].frames : 0;
    figure_within("Tone", "a verse 50 dB under the shout before it, not listened to for", 4.8 - 0.02 * heard,
                  20.0 / 6.0, 0.7, "s", "our own limit");
    partials_done(&p);
    free(take.audio);
}

/* The only counters of samples with 32 bits: they come round after three days or more. */
static void counters_that_come_round_change_nothing(void **state)
{
    (void)state;
    static PartialsPiece young[MOST_PIECES], old[MOST_PIECES];
    static const double rates[] = {8000.0, 48000.0};
    for (size_t r = 0; r < sizeof rates / sizeof *rates; ++r) {
        SingerTake take;
        assert_true(
            singer_sing(&(SingerSpec){.voice = SINGER_ALTO, .seed = 3, .rate = rates[r], .seconds = 8.0}, &take));
        Partials p;
        assert_true(partials_init(&p, rates[r]));
        const uint32_t pieces = listen(&p, &take, young), hop = pitch_hop(&p.voice.pitch) / p.decimate;
        partials_reset(&p);
        p.frames = (UINT32_MAX - (uint32_t)(4.0 * p.rate)) / hop / 2 * 2; /* 4 seconds to go */
        p.taken = p.frames * hop;
        const uint32_t before = p.taken;
        assert_int_equal(listen(&p, &take, old), pieces);
        assert_true(p.taken < before);
        assert_memory_equal(young, old, pieces * sizeof *young);
        figure_at_least("Tone", "pieces of voice, counters come round between them", pieces, 20.0, "", "requirement");
        partials_done(&p);
        singer_free(&take);
    }
}

/* An octave below, for 80 ms: what a slip of the pitch tracker looks like. Neither it nor what rings off is held. */
static void notes_are_held_and_slips_are_not(void **state)
{
    (void)state;
    SingerTake take = silence(3.5);
    add_note(&take, 220.0, 0.02, 0.2, 1.2, 1.3);
    add_note(&take, 110.0, 0.02, 1.6, 1.68, 1.68);
    add_note(&take, 220.0, 0.02, 2.0, 3.0, 3.0);
    Partials p;
    PartialsPiece piece;
    uint32_t frames = 0;
    assert_true(partials_init(&p, take.rate));
    for (uint32_t at = 0; at + DSP_CELL <= take.frames; at += DSP_CELL) {
        partials_tick(&p, &piece);
        const HeldFound held = partials_held(&p);
        frames += held.frames;
        for (uint32_t i = 0; i < held.frames; ++i)
            assert_true(fabs(held.note[i] - 57.0) < 0.1);
        partials_process(&p, take.audio + at, DSP_CELL);
    }
    assert_true(frames > 185 && frames < 212);
    partials_done(&p);
    singer_free(&take);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(harmonics_have_their_levels),
                                       cmocka_unit_test(a_low_note_fills_every_harmonic_and_no_more),
                                       cmocka_unit_test(quiet_takes_give_the_same_pieces),
                                       cmocka_unit_test(a_quiet_verse_is_heard_after_a_shout),
                                       cmocka_unit_test(counters_that_come_round_change_nothing),
                                       cmocka_unit_test(notes_are_held_and_slips_are_not)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
