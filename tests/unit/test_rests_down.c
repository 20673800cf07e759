/* Rests: what it learns from tables of frames, and what it does with takes whose rests are known. On recorded voices:
 * test_rests_voices.c. */
#include "rests_down.h"

#include "learned_room.h"
#include "plain_rest_bands.h"
#include "play.h"
#include "seeds.h"
#include "singer/singer.h"
#include "units.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define RATE 48000.0

/* ---- What it learns ---- */

enum { HOP = 4800 };

typedef struct {
    RestsMemory memory;
    RestsHearing hearing;
} Learner;

static Learner fresh(void)
{
    Learner l = {.hearing = {.frames = 0}};
    learned_clear(&rests_schema, &l.memory);
    return l;
}

/* Frames of voice, or of a rest of this level in every band. */
static void hear(Learner *l, uint32_t frames, double db, bool voiced)
{
    const double power = db_to_power(db);
    const ListeningFrame heard = {
        .power = power * HOP / 10, .sounding = voiced ? HOP / 10 / DSP_CELL : 0, .hz = voiced ? 200.0 : 0.0};
    const RestsFrame frame = {.mean = power, .swing = {power, power, power, power}};
    for (uint32_t f = 0; f < frames; ++f)
        rests_memory_hear(&l->memory, &l->hearing, &heard, &frame, HOP);
}

static void hear_take(Learner *l, uint32_t phrases, double voice, double rest)
{
    for (uint32_t i = 0; i < phrases; ++i) {
        hear(l, 100, voice, true);
        hear(l, 60, rest, false);
    }
}

static void rests_and_voice_are_learned(void **state)
{
    (void)state;
    Learner l = fresh();
    hear_take(&l, 10, -20.0, -60.0);
    const RestsFigures f = rests_memory_figures(&l.memory);
    assert_true(f.known);
    assert_true(fabs(f.level + 20.0) < 1.5 && fabs(f.noise + 60.0) < 0.3); /* blocks reach into rests */
    for (int b = 0; b < REST_BANDS; ++b)
        assert_true(fabs(f.swing[b] + 60.0) < 0.3);
}

static void breaths_in_rests_are_not_the_room(void **state)
{
    (void)state;
    Learner l = fresh();
    for (uint32_t i = 0; i < 20; ++i) {
        hear(&l, 100, -20.0, true);
        hear(&l, 30, -60.0, false);
        hear(&l, 40, -30.0, false);
    }
    assert_true(fabs(rests_memory_figures(&l.memory).noise + 60.0) < 0.6);
}

static void too_little_is_not_known(void **state)
{
    (void)state;
    Learner l = fresh();
    hear_take(&l, 2, -20.0, -60.0);
    RestsFigures f = rests_memory_figures(&l.memory);
    assert_true(f.level > UNITS_DB_FLOOR && !(f.noise > UNITS_DB_FLOOR) && !f.known);
    Learner noisy = fresh();
    hear_take(&noisy, 20, -20.0, -32.0);
    f = rests_memory_figures(&noisy.memory);
    assert_true(f.noise > UNITS_DB_FLOOR && !f.known);
}

static void digital_silence_is_no_room(void **state)
{
    (void)state;
    Learner l = fresh();
    hear_take(&l, 20, -20.0, -200.0);
    assert_false(rests_memory_figures(&l.memory).noise > UNITS_DB_FLOOR);
}

static void a_fresh_start_keeps_the_figures_until_there_are_new_ones(void **state)
{
    (void)state;
    Learner l = fresh();
    hear_take(&l, 20, -20.0, -60.0);
    const RestsFigures before = rests_memory_figures(&l.memory);
    rests_memory_start_afresh(&l.memory);
    const RestsFigures kept = rests_memory_figures(&l.memory);
    assert_memory_equal(&before, &kept, sizeof before);
    hear_take(&l, 20, -30.0, -70.0);
    assert_true(fabs(rests_memory_figures(&l.memory).noise + 70.0) < 0.5);
}

/* ---- What it does ---- */

static const RestsParams params = {
    .noise_down = 12.0, .breath_down = 6.0, .sound_over = 2.0, .closing = 150.0, .learn = true};

typedef struct {
    SingerTake take;
    float *out, *removed; /* on hold after a pass of learning; the same, hearing what goes */
    uint32_t late;
    RestsReport report;
} Sung;

static float *pass(Player *p, const Sung *s, RestsParams with)
{
    float *const out = calloc(s->take.frames, sizeof *out);
    assert_non_null(out);
    play_reset(p);
    play_set(p, &with);
    play(p, (const float *[]){s->take.audio}, (float *[]){out}, s->take.frames);
    return out;
}

static int sing(void **state)
{
    static Sung s;
    Player p;
    const SingerSpec spec = {.voice = SINGER_TENOR,
                             .seed = 7,
                             .rate = RATE,
                             .seconds = 24.0,
                             .rest_seconds = 0.6,
                             .hiss_db = -45.0,
                             .breath_db = -9.0};
    if (!singer_sing(&spec, &s.take) || !play_init(&p, &rests, RATE, 1))
        return 1;
    s.late = play_latency(&p);
    free(pass(&p, &s, params));
    RestsParams hold = params;
    hold.learn = false;
    s.out = pass(&p, &s, hold);
    play_report(&p, &s.report);
    hold.hear_removed = true;
    s.removed = pass(&p, &s, hold);
    play_done(&p);
    *state = &s;
    return 0;
}

static int hush(void **state)
{
    Sung *s = *state;
    singer_free(&s->take);
    free(s->out);
    free(s->removed);
    return 0;
}

static void it_is_early_enough(void **state)
{
    static const double rates[] = {8000, 44100, 48000, 192000, 384000};
    (void)state;
    for (size_t i = 0; i < sizeof rates / sizeof *rates; ++i) {
        Player p;
        assert_true(play_init(&p, &rests, rates[i], 1));
        assert_int_equal(play_latency(&p), (uint32_t)(0.015 * rates[i] + 0.5));
        play_done(&p);
    }
}

static void what_it_found_is_told(void **state)
{
    const Sung *s = *state;
    assert_true(fabs(s->report.voice_level - s->take.voice_level_db) < 1.0);
    assert_true(fabs(s->report.noise_level - (s->take.voice_level_db - 45.0)) < 1.0);
    double rests_last = 0.0;
    for (size_t i = 0; i < s->take.rest_count; ++i)
        rests_last += s->take.rests[i].end - s->take.rests[i].start;
    assert_true(s->report.at_rest > 0.5 * rests_last && s->report.at_rest < 1.1 * rests_last + 1.0);
}

/* The input, late, to the bit from 40 ms after the first sound of a phrase (a t begins with silence) to its end. */
static void phrases_pass_to_the_bit(void **state)
{
    const Sung *s = *state;
    for (size_t i = 0; i < s->take.phrase_count; ++i) {
        uint32_t first = (uint32_t)(s->take.phrases[i].start * RATE);
        while (s->take.voice[first] == 0.f)
            ++first;
        const uint32_t from = first + (uint32_t)(0.04 * RATE);
        const uint32_t to = (uint32_t)((s->take.phrases[i].end - 0.02) * RATE);
        assert_memory_equal(s->out + from + s->late, s->take.audio + from, (to - from) * sizeof(float));
        for (uint32_t k = from; k < to; ++k)
            assert_true(s->removed[k + s->late] == 0.f);
    }
}

/* What comes out and what goes add up to the input. */
static void nothing_is_lost(void **state)
{
    const Sung *s = *state;
    double gone = 0.0;
    for (uint32_t k = s->late; k < s->take.frames; ++k) {
        const double off = (double)s->out[k] + (double)s->removed[k] - (double)s->take.audio[k - s->late];
        assert_true(fabs(off) < 1e-6);
        gone += fabs((double)s->removed[k]);
    }
    assert_true(gone > 1.0);
}

static void nothing_is_done_before_anything_is_learned(void **state)
{
    const Sung *s = *state;
    Player p;
    RestsParams hold = params;
    hold.learn = false;
    assert_true(play_init(&p, &rests, RATE, 1));
    float *const out = pass(&p, s, hold);
    assert_memory_equal(out + s->late, s->take.audio, (s->take.frames - s->late) * sizeof *out);
    RestsReport r;
    play_report(&p, &r);
    assert_true(r.voice_level <= UNITS_DB_FLOOR && r.noise_level <= UNITS_DB_FLOOR && !r.resting && r.at_rest == 0);
    play_done(&p);
    free(out);
}

/* Moving the amount in a rest moves the gain without a step. */
static void amounts_move_smoothly(void **state)
{
    const Sung *s = *state;
    Player p;
    assert_true(play_init(&p, &rests, RATE, 1));
    free(pass(&p, s, params));
    RestsParams moved = params;
    moved.learn = false;
    play_set(&p, &moved);
    float in[DSP_CELL], out[DSP_CELL] = {0}, last = 0.f, step = 0.f;
    for (uint32_t cell = 0; cell < 3000; ++cell) {
        for (uint32_t k = 0; k < DSP_CELL; ++k)
            in[k] = (float)(db_to_gain(s->report.noise_level) * (cell % 2 ? 1.0 : -1.0) * (k % 2 ? 0.2 : -0.2));
        moved.noise_down = cell / 500 % 2 ? 30.0 : 5.0;
        play_set(&p, &moved);
        play(&p, (const float *[]){in}, (float *[]){out}, DSP_CELL);
        for (uint32_t k = 0; k < DSP_CELL && cell > 100; ++k) {
            const float gain = fabsf(out[k]) / (float)(0.2 * db_to_gain(s->report.noise_level));
            step = fmaxf(step, last > 0.f ? fabsf(gain - last) : 0.f);
            last = gain;
        }
    }
    assert_true(last < 0.6f);
    assert_true(step > 0.f && step < 0.02f);
    play_done(&p);
}

/* Powers alone: a word, a stop of 110 ms, its t, and a rest, which begins 120 ms after that. */
static void a_stop_before_a_last_t_is_no_rest(void **state)
{
    static RestBands bands;
    RestFinder finder;
    const double swing[REST_BANDS] = {-70.0, -70.0, -70.0, -70.0};
    (void)state;
    rest_finder_init(&finder, RATE);
    rest_finder_know(&finder, swing, -20.0, 2.0);
    for (double t = 0.0; t < 0.6; t += DSP_CELL / RATE) {
        bands.power[0] = t < 0.2 ? 1e-2 : 0.0;
        bands.power[3] = t > 0.31 && t < 0.33 ? 1e-4 : 0.0;
        const RestKind kind = rest_finder_hear(&finder, &bands);
        assert_true(kind == (t < 0.45 ? REST_NONE : REST_ROOM) || fabs(t - 0.45) < 0.002);
    }
}

/* A note of two partials that swells: like a breath but for its pitch. */
static void a_note_that_swells_is_no_breath(void **state)
{
    RestBands bands;
    RestFinder finder;
    const double swing[REST_BANDS] = {-70.0, -70.0, -70.0, -70.0};
    (void)state;
    rest_bands_init(&bands, RATE, 1);
    rest_finder_init(&finder, RATE);
    rest_finder_know(&finder, swing, -20.0, 2.0);
    bool rested = false;
    for (uint32_t k = 0; k < RATE; k += DSP_CELL) {
        float x[DSP_CELL];
        for (uint32_t i = 0; i < DSP_CELL; ++i) {
            const double t = (k + i) / RATE, swell = t < 0.3 ? 0.0 : fmin(1.0, (t - 0.3) / 0.5);
            x[i] = (float)(0.05 * swell * swell * (sin(4400.0 * t) + 0.7 * sin(13200.0 * t)));
        }
        rest_bands_process(&bands, (const float *[]){x}, DSP_CELL);
        rest_bands_tick(&bands);
        const RestKind kind = rest_finder_hear(&finder, &bands);
        rested |= kind == REST_ROOM;
        assert_true(k < 0.7 * RATE || kind == REST_NONE);
    }
    assert_true(rested);
}

/* Noise of any length, of which all that is kept has to be the same. */
static void bands_keep_to_the_bit(RestBandsWalk *walk, RestBandsWalk *told, uint32_t channels)
{
    static RestBands got, want;
    uint32_t seed = seeded(12);
    rest_bands_init(&got, RATE, channels);
    rest_bands_init(&want, RATE, channels);
    for (uint32_t n = 1; n <= DSP_CELL; ++n) {
        float x[2][DSP_CELL];
        for (uint32_t t = 0; t < DSP_CELL; ++t)
            for (uint32_t c = 0; c < 2; ++c)
                x[c][t] = (float)((int32_t)(seed = seed * 1664525u + 1013904223u)) / 4294967296.f;
        const Four a = walk(&got, (const float *[]){x[0], x[1]}, DSP_CELL - n, n);
        const Four b = told(&want, (const float *[]){x[0], x[1]}, DSP_CELL - n, n);
        assert_memory_equal(&a, &b, sizeof a);
    }
    assert_memory_equal(got.s1, want.s1, sizeof got.s1);
    assert_memory_equal(got.s2, want.s2, sizeof got.s2);
    assert_memory_equal(got.energy, want.energy, sizeof got.energy);
    for (uint32_t c = 0; c < channels; ++c)
        for (int b = 0; b < REST_BANDS; ++b)
            assert_true(four_lane(want.energy[c], b) > 0.f);
}

static void bands_in_vectors_of_four_and_eight_are_the_same(void **state)
{
    (void)state;
    bands_keep_to_the_bit(rest_bands_walk_four, plain_rest_bands_walk, 1);
    bands_keep_to_the_bit(rest_bands_walk_four, plain_rest_bands_walk, 2);
    if (!WIDE_AVX2 || wide_avx2())
        bands_keep_to_the_bit(rest_bands_walk_avx2, plain_rest_bands_walk, 2);
}

/* One channel in both is what it is alone. */
static void two_channels_that_are_the_same_hear_what_one_does(void **state)
{
    static RestBands one, two;
    uint32_t seed = seeded(13);
    (void)state;
    rest_bands_init(&one, RATE, 1);
    rest_bands_init(&two, RATE, 2);
    for (int cell = 0; cell < 40; ++cell) {
        float x[DSP_CELL];
        for (uint32_t t = 0; t < DSP_CELL; ++t)
            x[t] = (float)((int32_t)(seed = seed * 1664525u + 1013904223u)) / 4294967296.f;
        rest_bands_process(&one, (const float *[]){x}, DSP_CELL);
        rest_bands_process(&two, (const float *[]){x, x}, DSP_CELL);
        rest_bands_tick(&one);
        rest_bands_tick(&two);
        assert_memory_equal(one.power, two.power, sizeof one.power);
        assert_memory_equal(&one.signs, &two.signs, sizeof one.signs);
    }
    assert_true(one.power[0] > 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bands_in_vectors_of_four_and_eight_are_the_same),
        cmocka_unit_test(two_channels_that_are_the_same_hear_what_one_does),
        cmocka_unit_test(rests_and_voice_are_learned),
        cmocka_unit_test(breaths_in_rests_are_not_the_room),
        cmocka_unit_test(too_little_is_not_known),
        cmocka_unit_test(digital_silence_is_no_room),
        cmocka_unit_test(a_fresh_start_keeps_the_figures_until_there_are_new_ones),
        cmocka_unit_test(it_is_early_enough),
        cmocka_unit_test(what_it_found_is_told),
        cmocka_unit_test(phrases_pass_to_the_bit),
        cmocka_unit_test(nothing_is_lost),
        cmocka_unit_test(nothing_is_done_before_anything_is_learned),
        cmocka_unit_test(amounts_move_smoothly),
        cmocka_unit_test(a_stop_before_a_last_t_is_no_rest),
        cmocka_unit_test(a_note_that_swells_is_no_breath),
    };
    return cmocka_run_group_tests(tests, sing, hush);
}
