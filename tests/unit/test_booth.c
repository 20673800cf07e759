/* Booth: that nothing happens where there is no room, what is learned and kept, that the loudness stays. Words are
 * bursts of noise, in rooms that were planted (tests/roomy.h). */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "booth.h"
#include "figure.h"
#include "learned_room.h"
#include "play.h"
#include "roomy.h"
#include "seeds.h"
#include "singer/random.h"
#include "units.h"

#define RATE 16000.0

static const BoothParams usual = {.down_by = 12.0, .from = 0.05, .even_loudness = true, .learn = true};

typedef struct {
    Roomy room;
    float *out[2];
} Words;

/* Words of 0.3 s, 0.6 s from each other, over a faint noise. t60 0: no room. */
static Words words_at(double rate, double seconds, double t60, double db)
{
    const uint32_t n = (uint32_t)(seconds * rate);
    float *dry = calloc(n + 1u, sizeof *dry);
    Words w = {.out = {calloc(n + 1u, sizeof(float)), calloc(n + 1u, sizeof(float))}};
    assert_true(dry && w.out[0] && w.out[1]);
    Random random = random_stream(seeded(8), 1);
    for (uint32_t t = 0; t < n; ++t) {
        const double into = fmod(t / rate, 0.9) / 0.3;
        const double shape = into < 1.0 ? fmin(1.0, 15.0 * fmin(into, 1.0 - into)) : 0.0;
        dry[t] = (float)((0.1 * shape + 3e-5) * (double)random_noise(&random));
    }
    roomy_plant(&w.room, dry, n, rate, t60 > 0.0 ? t60 : 0.3, t60 > 0.0 ? db : 200.0, 5);
    free(dry);
    return w;
}

static void drop(Words *w)
{
    roomy_free(&w->room);
    free(w->out[0]);
    free(w->out[1]);
}

static Player made(double rate, uint32_t channels, const BoothParams *params)
{
    Player p;
    assert_true(play_init(&p, &booth, rate, channels));
    play_set(&p, params);
    return p;
}

static BoothReport hear(Player *p, Words *w)
{
    BoothReport r;
    play(p, (const float *const[]){w->room.take, w->room.take}, (float *const[]){w->out[0], w->out[1]}, w->room.n);
    play_report(p, &r);
    return r;
}

static void assert_late(const Words *w, uint32_t latency, uint32_t channels)
{
    for (uint32_t c = 0; c < channels; ++c)
        for (uint32_t t = 0; t < w->room.n; ++t) {
            const float want = t < latency ? 0.f : w->room.take[t - latency];
            assert_memory_equal(&want, &w->out[c][t], sizeof want);
        }
}

static double power_between(const float *x, double from, double to, double rate)
{
    return roomy_energy(x + (size_t)(from * rate), (uint32_t)((to - from) * rate));
}

/* dB from second `from` on, output over input. */
static double changed(const Words *w, uint32_t latency, double from)
{
    const double end = w->room.n / w->room.rate - latency / w->room.rate - 0.01;
    return power_to_db(power_between(w->out[0] + latency, from, end, w->room.rate) /
                       power_between(w->room.take, from, end, w->room.rate));
}

/* dB, in the gaps after words from second `from` on. */
static double gaps(const Words *w, uint32_t latency, double from)
{
    double in = 0.0, out = 0.0;
    for (double t = 0.9 * ceil(from / 0.9); t + 1.0 < w->room.n / w->room.rate; t += 0.9) {
        in += power_between(w->room.take, t + 0.37, t + 0.6, w->room.rate);
        out += power_between(w->out[0] + latency, t + 0.37, t + 0.6, w->room.rate);
    }
    return power_to_db(out / in);
}

static void where_no_room_is_known_the_input_comes_out(void **state)
{
    (void)state;
    BoothParams hold = usual, none = usual;
    hold.learn = false;
    none.down_by = 0.0;
    const BoothParams *const idle[] = {&hold, &none, &usual};
    for (int i = 0; i < 3; ++i) {
        Player p = made(RATE, 2, idle[i]);
        Words w = words_at(RATE, 12.0, i == 2 ? 0.0 : 0.7, 0.0);
        const BoothReport r = hear(&p, &w);
        assert_late(&w, play_latency(&p), 2);
        assert_true(r.removed == 0.0 && r.down == 0.0 && r.makeup == 0.0);
        assert_true((r.decay > 0.0) == (i == 1) && (r.late > UNITS_DB_FLOOR) == (i == 1));
        assert_true((r.falls > 0.0) == (i > 0));
        drop(&w);
        play_done(&p);
    }
}

static void rooms_are_found_at_any_rate(void **state)
{
    (void)state;
    static const double rates[] = {8000.0, 22050.0, 48000.0};
    double worst = 0.0, gap = -200.0;
    for (int i = 0; i < 3; ++i) {
        Player p = made(rates[i], 1, &usual);
        Words w = words_at(rates[i], 14.0, 0.6, 3.0);
        const BoothReport r = hear(&p, &w);
        const uint32_t latency = play_latency(&p);
        assert_true(latency > 0.03 * rates[i] && latency < 0.05 * rates[i]);
        printf("%g Hz: decay %.2f s, late %.1f dB, of %g falls\n", rates[i], r.decay, r.late, r.falls);
        worst = fmax(worst, fabs(r.decay / 0.6 - 1.0));
        gap = fmax(gap, gaps(&w, latency, 9.0) - r.makeup);
        drop(&w);
        play_done(&p);
    }
    figure_at_most("Booth", "bursts of noise in a room of 0.6 s: decay time off by", 100.0 * worst, 15.0, "%", "ours");
    figure_at_most("Booth", "bursts of noise in a room of 0.6 s: gaps, least change", gap, -8.0, "dB", "requirement");
}

/* Steps of searches that are left, of all bands. */
static uint32_t steps_left(const Booth *b)
{
    uint32_t left = 0;
    for (uint32_t band = 0; band < BOOTH_BANDS; ++band)
        left += b->search[band].left;
    return left;
}

/* Words that end in all bands at once: what they tell is worked out over some frames, two steps or three in a cell, and
 * before the frames that it is read from are overwritten. */
static void falls_at_once_are_worked_out_over_some_frames(void **state)
{
    (void)state;
    Player p = made(48000.0, 1, &usual);
    Words w = words_at(48000.0, 12.0, 0.6, 3.0);
    const Booth *b = p.dsp;
    uint32_t most = 0, busy = 0, longest = 0;
    for (uint32_t t = 0; t + DSP_CELL <= w.room.n; t += DSP_CELL) {
        play(&p, (const float *const[]){w.room.take + t}, (float *const[]){w.out[0] + t}, DSP_CELL);
        const uint32_t left = steps_left(b);
        most = left > most ? left : most;
        busy = left ? busy + 1 : 0;
        longest = busy > longest ? busy : longest;
    }
    printf("%u steps at once, done in %u cells\n", most, longest);
    assert_true(most > 3 * BOOTH_SEARCH_STEPS);
    assert_true(longest > b->stft.cells && longest <= BOOTH_SEARCH_FRAMES * b->stft.cells);
    assert_true(b->searching.most > 0.0 && b->searching.most <= 3.0 * b->stft.cells);
    drop(&w);
    play_done(&p);
}

/* On hold, after a restore or a reset nothing comes of a search that was under way. */
static void what_is_not_worked_out_yet_is_dropped(void **state)
{
    (void)state;
    BoothParams hold = usual;
    hold.learn = false;
    for (int way = 0; way < 3; ++way) {
        Player p = made(48000.0, 1, &usual);
        Words w = words_at(48000.0, 12.0, 0.6, 3.0);
        const Booth *b = p.dsp;
        Learned before = LEARNED_WITH_ROOM, after = LEARNED_WITH_ROOM;
        for (uint32_t t = 0; t + DSP_CELL <= w.room.n && !steps_left(b); t += DSP_CELL)
            play(&p, (const float *const[]){w.room.take + t}, (float *const[]){w.out[0] + t}, DSP_CELL);
        assert_true(steps_left(b) > 0);
        play_get(&p, &before);
        if (way == 0)
            play_set(&p, &hold);
        else if (way == 1)
            play_put(&p, &before);
        else
            play_reset(&p);
        assert_int_equal(steps_left(b), 0);
        play_get(&p, &after);
        assert_true(learned_same(&booth_schema, &before, &after));
        drop(&w);
        play_done(&p);
    }
}

/* What goes and what stays are the whole; no gain between them without even_loudness. */
static void what_goes_can_be_heard(void **state)
{
    (void)state;
    BoothParams params = usual;
    params.even_loudness = false;
    Player p = made(RATE, 1, &params);
    Words w = words_at(RATE, 12.0, 0.7, 0.0), gone = words_at(RATE, 12.0, 0.7, 0.0);
    const BoothReport r = hear(&p, &w);
    params.hear_removed = true;
    Player q = made(RATE, 1, &params);
    hear(&q, &gone);
    const uint32_t latency = play_latency(&p);
    double worst = 0.0, in = 0.0, removed = 0.0;
    for (uint32_t t = latency; t < w.room.n; ++t) {
        const double late = (double)w.room.take[t - latency], off = late - (double)w.out[0][t];
        worst = fmax(worst, fabs((double)gone.out[0][t] - off));
        in += late * late;
        removed += off * off;
    }
    figure_at_most("Booth", "what stays and what goes, added: off by", gain_to_db(worst), -130.0, "dB", "ours");
    figure_at_most("Booth", "energy removed: told off by", fabs(r.removed - 100.0 * removed / in), 0.1, "%",
                   "own truth; wide: rounding");
    assert_true(r.makeup == 0.0 && r.removed > 0.5);
    drop(&w);
    drop(&gone);
    play_done(&p);
    play_done(&q);
}

static void the_loudness_stays(void **state)
{
    (void)state;
    Player p = made(RATE, 1, &usual);
    Words w = words_at(RATE, 24.0, 0.8, -3.0);
    hear(&p, &w);
    BoothParams hold = usual;
    hold.learn = false;
    play_set(&p, &hold);
    const BoothReport r = hear(&p, &w);
    const double kept = changed(&w, play_latency(&p), 1.0);
    assert_true(r.makeup > 0.5);
    figure_within("Booth", "a room stronger than the words, loudness kept: energy changed by", kept, 0.0, 1.0, "dB",
                  "ours: loudness leaves the softest gaps out");
    hold.even_loudness = false;
    play_set(&p, &hold);
    assert_true(hear(&p, &w).makeup == 0.0);
    assert_true(fabs(changed(&w, play_latency(&p), 1.0) - kept + r.makeup) < 0.05);
    drop(&w);
    play_done(&p);
}

/* While no room is known nothing is turned down, and that tells nothing of what will be: the first quarter of a
 * minute is one long note. */
static void what_came_before_a_room_was_known_moves_no_makeup(void **state)
{
    (void)state;
    BoothReport r[2];
    for (int note = 0; note < 2; ++note) {
        Player p = made(RATE, 1, &usual);
        Words w = words_at(RATE, 15.0, 0.8, 0.0);
        Random random = random_stream(seeded(8), 2);
        float x[DSP_CELL], *const out[] = {w.out[0], w.out[1]};
        for (uint32_t t = 0; note && t < 15.0 * RATE; t += DSP_CELL) {
            for (uint32_t i = 0; i < DSP_CELL; ++i)
                x[i] = 0.1f * random_noise(&random);
            play(&p, (const float *const[]){x, x}, out, DSP_CELL);
        }
        r[note] = hear(&p, &w);
        drop(&w);
        play_done(&p);
    }
    assert_true(r[0].makeup > 0.5);
    figure_within("Booth", "a long note before any room is known: makeup moves by", r[1].makeup - r[0].makeup, 0.0, 0.3,
                  "dB", "ours: the same room; wide: nothing of the note counts");
}

static void what_was_learned_works_from_the_first_frame(void **state)
{
    (void)state;
    Player p = made(RATE, 1, &usual);
    Words w = words_at(RATE, 14.0, 0.7, 0.0), brief = words_at(RATE, 3.0, 0.7, 0.0);
    const BoothReport learned = hear(&p, &w);
    Learned l;
    assert_true(learned_init(&l, booth.learned.schema));
    play_get(&p, &l);
    BoothParams hold = usual;
    hold.learn = false;
    Player q = made(RATE, 1, &hold);
    play_put(&q, &l);
    const BoothReport r = hear(&q, &brief);
    assert_true(r.decay == learned.decay && r.late == learned.late && r.falls == learned.falls && r.makeup > 0.0);
    assert_true(gaps(&brief, play_latency(&q), 0.0) - r.makeup < -6.0 && r.down < -0.3);
    drop(&w);
    drop(&brief);
    learned_done(&l);
    play_done(&p);
    play_done(&q);
}

/* More is taken away where more is asked for, where more counts, and where late is sooner. */
static void every_control_takes_more_or_less(void **state)
{
    (void)state;
    BoothParams with[5] = {usual, usual, usual, usual, usual};
    double took[5];
    with[1].down_by = 4.0;
    with[2].counts_up_to = -6.0;
    with[3].from = 0.1;
    with[4].from = 0.03;
    for (int i = 0; i < 5; ++i) {
        Player p = made(RATE, 1, &with[i]);
        Words w = words_at(RATE, 10.0, 0.7, 0.0);
        took[i] = hear(&p, &w).removed;
        drop(&w);
        play_done(&p);
    }
    for (int i = 1; i < 4; ++i)
        assert_true(took[i] < 0.9 * took[0]);
    assert_true(took[4] > 1.05 * took[0]);
}

/* A channel that is dead from the start on: the other one's figures. */
static void a_dead_channel_changes_nothing(void **state)
{
    (void)state;
    BoothReport r[2];
    for (uint32_t channels = 1; channels < 3; ++channels) {
        Player p = made(RATE, channels, &usual);
        Words w = words_at(RATE, 12.0, 0.7, 0.0);
        float *const silence = calloc(w.room.n, sizeof *silence);
        assert_non_null(silence);
        play(&p, (const float *const[]){w.room.take, silence}, (float *const[]){w.out[0], w.out[1]}, w.room.n);
        play_report(&p, &r[channels - 1]);
        free(silence);
        drop(&w);
        play_done(&p);
    }
    assert_true(r[0].decay > 0.0 && fabs(r[1].decay / r[0].decay - 1.0) < 0.01);
    assert_true(fabs(r[1].late - r[0].late) < 0.3 && fabs(r[1].makeup - r[0].makeup) < 0.1);
}

static void hold_to_learn_starts_afresh(void **state)
{
    (void)state;
    BoothParams params = usual;
    Player p = made(RATE, 1, &params);
    Words w = words_at(RATE, 12.0, 0.7, 0.0), brief = words_at(RATE, 1.2, 0.7, 0.0);
    const BoothReport first = hear(&p, &w);
    params.learn = false;
    play_set(&p, &params);
    assert_true(hear(&p, &brief).decay == first.decay);
    params.learn = true;
    play_set(&p, &params);
    assert_true(hear(&p, &brief).decay == 0.0);
    const BoothReport again = hear(&p, &w);
    assert_true(fabs(again.decay / first.decay - 1.0) < 0.1);
    drop(&w);
    drop(&brief);
    play_done(&p);
}

/* ---- Looking inside ---- */

/* A memory of a room, and of blocks that get this gain (a column). */
static void know(Booth *b, double decay, double of_early, uint32_t column)
{
    double energy[BOOTH_GAINS] = {0};
    energy[column] = 0.01;
    for (uint32_t i = 0; i < 40; ++i) {
        booth_memory_decay(&b->memory, i % BOOTH_BANDS, decay);
        booth_memory_late(&b->memory, i % BOOTH_BANDS, of_early);
        booth_memory_block(&b->memory, energy);
    }
}

static void play_silence(Player *p, double seconds)
{
    float silence[DSP_CELL] = {0}, left[DSP_CELL] = {0}, right[DSP_CELL] = {0};
    for (double t = 0.0; t < seconds; t += DSP_CELL / RATE)
        play(p, (const float *const[]){silence, silence}, (float *const[]){left, right}, DSP_CELL);
}

/* What is restored while it plays comes in within half a second, and goes as slowly. */
static void a_room_comes_in_gently(void **state)
{
    (void)state;
    BoothParams hold = usual;
    hold.learn = false;
    Player p = made(RATE, 1, &hold), q = made(RATE, 1, &hold);
    Booth *b = p.dsp;
    know(q.dsp, 0.7, 0.3, 8);
    Learned l;
    assert_true(learned_init(&l, booth.learned.schema));
    play_get(&q, &l);
    play_silence(&p, 0.2);
    assert_true(b->part == 0.f);
    play_put(&p, &l);
    play_silence(&p, 0.25);
    assert_true(fabs((double)b->part - 0.5) < 0.05);
    play_silence(&p, 0.3);
    assert_true(b->part == 1.f);
    learned_done(&l);
    play_done(&p);
    play_done(&q);
}

/* In steps of 1/32 dB, 9 dB at most; none without a room, without even_loudness, or where nothing is turned down. */
static void the_makeup_follows_from_memory_and_controls(void **state)
{
    (void)state;
    for (uint32_t column = 0; column < BOOTH_GAINS; column += 4) {
        BoothParams params = usual;
        params.learn = false;
        params.down_by = 15.0;
        Player p = made(RATE, 1, &params);
        Booth *b = p.dsp;
        know(b, 0.7, 0.3, column);
        play_reset(&p);
        play_set(&p, &params);
        const double wanted = fmin(booth_memory_makeup(&b->memory, db_to_gain(-15.0)), 9.0);
        assert_true(fabs(b->wished - wanted) <= 1.0 / 64.0 + 1e-9);
        assert_true(32.0 * b->wished == floor(32.0 * b->wished));
        assert_true((column <= 4) == (b->wished == 9.0) && (column == BOOTH_GAINS - 1) == (b->wished == 0.0));
        assert_true(b->now == b->wished && fabs(b->makeup.value - db_to_gain(b->now)) < 1e-12);
        params.down_by = 0.0;
        play_set(&p, &params);
        play_silence(&p, 0.05);
        assert_true(b->wished == 0.0 && b->now == 0.0);
        params.down_by = 15.0;
        play_set(&p, &params);
        play_silence(&p, 0.5); /* up by 6 dB a second */
        assert_true(b->now <= 3.1 && b->now >= fmin(b->wished, 2.7));
        play_done(&p);
    }
}

/* A fall that is not about as quick as the room tells nothing of how much is late. */
static void only_falls_like_the_rooms_tell_what_is_late(void **state)
{
    (void)state;
    static const double known[] = {0.28, 0.58, 1.2};
    for (int i = 0; i < 3; ++i) {
        Player p = made(RATE, 1, &usual);
        Booth *b = p.dsp;
        for (int k = 0; k < 200; ++k)
            booth_memory_decay(&b->memory, 1, known[i]);
        Words w = words_at(RATE, 6.0, 0.6, 0.0);
        hear(&p, &w);
        uint32_t told = 0;
        for (uint32_t bin = 0; bin < BOOTH_LATE_BINS; ++bin)
            told += b->memory.late[1][bin];
        assert_true(i == 1 ? told >= 3 : told == 0);
        drop(&w);
        play_done(&p);
    }
}

static void what_happens_lately_fades(void **state)
{
    (void)state;
    Player p = made(RATE, 1, &usual);
    Booth *b = p.dsp;
    Words w = words_at(RATE, 2.0, 0.7, 0.0);
    hear(&p, &w);
    play_silence(&p, 0.1); /* what was late has come out */
    const double before = b->removal.in_lately;
    play_silence(&p, 0.5);
    assert_true(fabs(b->removal.in_lately / before - exp(-1.0)) < 0.02);
    drop(&w);
    play_done(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(where_no_room_is_known_the_input_comes_out),
        cmocka_unit_test(rooms_are_found_at_any_rate),
        cmocka_unit_test(falls_at_once_are_worked_out_over_some_frames),
        cmocka_unit_test(what_is_not_worked_out_yet_is_dropped),
        cmocka_unit_test(what_goes_can_be_heard),
        cmocka_unit_test(the_loudness_stays),
        cmocka_unit_test(what_came_before_a_room_was_known_moves_no_makeup),
        cmocka_unit_test(what_was_learned_works_from_the_first_frame),
        cmocka_unit_test(every_control_takes_more_or_less),
        cmocka_unit_test(a_dead_channel_changes_nothing),
        cmocka_unit_test(hold_to_learn_starts_afresh),
        cmocka_unit_test(a_room_comes_in_gently),
        cmocka_unit_test(the_makeup_follows_from_memory_and_controls),
        cmocka_unit_test(only_falls_like_the_rooms_tell_what_is_late),
        cmocka_unit_test(what_happens_lately_fades),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
