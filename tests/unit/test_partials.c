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
    figure_at_most("Tone", "level of a harmonic under 1.5 kHz, to the first: error", worst, 0.5, "dB", "our own limit");
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

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(harmonics_have_their_levels),
                                       cmocka_unit_test(counters_that_come_round_change_nothing)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
