/* Tone as a whole: its curve, its silence where there is nothing to do, its changes. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "analog.h"
#include "click.h"
#include "design.h"
#include "figure.h"
#include "play.h"
#include "seeds.h"
#include "tone.h"

static Tone *inside(const Player *p)
{
    return p->dsp;
}

/* NOLINTNEXTLINE(bugprone-macro-parentheses): a name to declare stands in no parentheses */
#define EACH(i, table) for (size_t i = 0; i < sizeof(table) / sizeof *(table); ++i)

static const double rates[] = {44100, 48000, 96000};

static const ToneParams flat = {
    .low_cut = 100,
    .dip = {{250, 0, 1, false}, {400, 0, 1, false}, {800, 0, 1, false}},
    .air_freq = 12000,
};

/* The settings of the voice presets. */
#define PRESET(cut, f1, d1, w1, f2, d2, w2, f3, d3, w3, lift)                                                          \
    {                                                                                                                  \
        .low_cut = (cut), .slope = TONE_CUT_12,                                                                        \
        .dip = {{(f1), (d1), (w1), false}, {(f2), (d2), (w2), false}, {(f3), (d3), (w3), false}}, .air_freq = 12000,   \
        .air_lift = (lift)                                                                                             \
    }
static const ToneParams preset[] = {
    PRESET(80, 250, -4, 1, 400, -3, 0.8, 800, -3, 0.7, 3),  PRESET(100, 280, -4, 1, 450, -3, 0.8, 800, -3, 0.7, 3),
    PRESET(105, 300, -4, 1, 480, -3, 0.8, 850, -3, 0.7, 3), PRESET(140, 350, -4, 1, 500, -3, 0.8, 850, -3, 0.7, 3),
    PRESET(150, 400, -4, 1, 500, 0, 0.8, 850, -3, 0.7, 3),  PRESET(150, 450, -3, 1, 500, 0, 0.8, 850, -3, 0.7, 3),
    PRESET(80, 250, -4, 1, 400, -3, 0.8, 800, -3, 0.7, 2),  PRESET(128, 300, -4, 1, 480, -3, 0.8, 850, -3, 0.7, 2),
};

static float noise(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (float)((int32_t)*seed) / 2147483648.f;
}

static double uniform(uint32_t *seed, double lo, double hi)
{
    return lo + (hi - lo) * (0.5 + 0.5 * (double)noise(seed));
}

static ToneParams any_params(uint32_t *seed)
{
    ToneParams p = {
        .low_cut = uniform(seed, 20, 300),
        .slope = (ToneSlope)uniform(seed, 0, 3.999),
        .air_freq = uniform(seed, 6000, 16000),
        .air_lift = uniform(seed, 0, 9),
        .point_out = (TonePoint)((uint32_t)uniform(seed, 0, 9.999) % 5),
        .learn = uniform(seed, 0, 1) < 0.8,
        .listening = uniform(seed, 0, 1) < 0.3,
        .take_out = uniform(seed, 0, 12),
    };
    EACH (i, p.dip)
        p.dip[i] = (ToneDip){uniform(seed, 100, 4000), uniform(seed, -12, 0), uniform(seed, 0.2, 3),
                             uniform(seed, 0, 1) < 0.3};
    return p;
}

static void mono(Player *t, const float *in, float *out, uint32_t n)
{
    play(t, (const float *[]){in}, (float *[]){out}, n);
}

static double wanted_db(const ToneParams *p, double hz)
{
    double db = p->slope ? analog_butterworth_high_pass(hz, p->low_cut, (int)p->slope + 1) : 0.0;
    EACH (i, p->dip)
        db += analog_bell(hz, p->dip[i].freq, p->dip[i].depth, design_q(p->dip[i].width));
    return db + analog_high_shelf(hz, p->air_freq, p->air_lift);
}

/* Gain at hz of an impulse response of n samples, by its Fourier sum. */
static double response_db(const float *h, uint32_t n, double hz, double rate)
{
    const double w = 2.0 * DSP_PI * hz / rate, turn = 2.0 * cos(w);
    double s1 = 0.0, s2 = 0.0;
    for (uint32_t i = 0; i < n; ++i) {
        const double s = h[i] + turn * s1 - s2;
        s2 = s1;
        s1 = s;
    }
    return 10.0 * log10(s1 * s1 + s2 * s2 - turn * s1 * s2);
}

typedef struct {
    double shallow, deep; /* largest errors where the curve is above and under -60 dB */
} Errors;

/* Runs an impulse through it: the curve as heard, not as designed. */
static void add_errors(Errors *e, const ToneParams *p, double rate)
{
    const uint32_t n = (uint32_t)(0.7 * rate);
    float *h = calloc(n, sizeof *h);
    assert_non_null(h);
    Player t;
    assert_true(play_init(&t, &tone, rate, 1));
    play_set(&t, p);
    h[0] = 1.f;
    mono(&t, h, h, n);
    for (int i = 0; i < 60; ++i) {
        const double hz = analog_grid(i, 60, 20.0, 18000.0), wanted = wanted_db(p, hz);
        const double error = fabs(response_db(h, n, hz, rate) - wanted);
        double *const to = wanted < -60.0 ? &e->deep : &e->shallow;
        *to = fmax(*to, error);
    }
    play_done(&t);
    free(h);
}

static void all_bands_together_follow_the_analog_curve(void **state)
{
    (void)state;
    EACH (r, rates) {
        Errors e = {0};
        EACH (i, preset)
            add_errors(&e, &preset[i], rates[r]);
        char what[80];
        snprintf(what, sizeof what, "all bands of every voice preset, %.0f Hz, to 18 kHz: error", rates[r]);
        figure_at_most("Tone", what, e.shallow, 0.1, "dB", "ours; required: 0.5");
    }
}

static void each_band_sounds_as_designed(void **state)
{
    (void)state;
    EACH (r, rates) {
        Errors small = {0}, large = {0};
        for (int slope = 1; slope < TONE_SLOPES; ++slope)
            for (double hz = 20; hz <= 300; hz *= 3.8) {
                ToneParams p = flat;
                p.slope = (ToneSlope)slope;
                p.low_cut = hz;
                add_errors(&small, &p, rates[r]);
            }
        static const ToneDip dips[] = {
            {100, -6, 0.2, false}, {4000, -6, 3, false}, {4000, -6, 0.2, false}, {800, -6, 1, false}};
        EACH (i, dips) {
            ToneParams p = flat;
            p.dip[i % TONE_DIPS] = dips[i];
            add_errors(&small, &p, rates[r]);
            p.dip[i % TONE_DIPS].depth = -12;
            add_errors(&large, &p, rates[r]);
        }
        for (double hz = 6000; hz <= 16000; hz += 2000) {
            ToneParams p = flat;
            p.air_freq = hz;
            p.air_lift = 6;
            add_errors(&small, &p, rates[r]);
            p.air_lift = 9;
            add_errors(&large, &p, rates[r]);
        }
        char what[80];
        snprintf(what, sizeof what, "a band alone, to 6 dB, heard at %.0f Hz: error", rates[r]);
        figure_at_most("Tone", what, small.shallow, 0.25, "dB", "requirement");
        snprintf(what, sizeof what, "a band alone, beyond 6 dB, heard at %.0f Hz: error", rates[r]);
        figure_at_most("Tone", what, large.shallow, 0.5, "dB", "requirement");
        snprintf(what, sizeof what, "low cut where it is under -60 dB, heard at %.0f Hz: error", rates[r]);
        figure_at_most("Tone", what, small.deep, 0.05, "dB", "ours; required: 1");
    }
}

enum { LONG = 48000 };

typedef struct {
    float in[2][LONG], out[2][LONG], other[2][LONG];
} Sound;

static Sound *sound(uint32_t seed)
{
    Sound *s = malloc(sizeof *s);
    assert_non_null(s);
    seed = seeded(seed);
    for (int i = 0; i < LONG; ++i) {
        s->in[0][i] = i % 11 ? noise(&seed) : -0.f;
        s->in[1][i] = 0.3f * noise(&seed);
    }
    return s;
}

static void nothing_to_do_returns_the_bits(void **state)
{
    (void)state;
    Sound *s = sound(1);
    for (double rate = DSP_RATE_MIN; rate <= DSP_RATE_MAX; rate *= 2) {
        Player t;
        assert_true(play_init(&t, &tone, rate, 1));
        ToneParams p = flat;
        for (uint32_t i = 0; i < 100; ++i) { /* frequencies and widths move about; nothing of it is heard */
            p.low_cut = 20 + 2 * i;
            p.dip[0].freq = 100 + 30 * i;
            p.dip[1].width = 0.2 + 0.02 * i;
            p.air_freq = 6000 + 100 * i;
            play_set(&t, &p);
            mono(&t, s->in[0] + (size_t)256 * i, s->out[0] + (size_t)256 * i, 256);
        }
        assert_memory_equal(s->in[0], s->out[0], sizeof(float) * 100 * 256);
        play_done(&t);
    }
    free(s);
}

static void controls_moved_back_to_nothing_return_the_bits(void **state)
{
    (void)state;
    Sound *s = sound(2);
    Player t;
    assert_true(play_init(&t, &tone, 44100, 2));
    play_set(&t, &preset[0]);
    play(&t, (const float *[]){s->in[0], s->in[1]}, (float *[]){s->out[0], s->out[1]}, LONG / 2);
    assert_memory_not_equal(s->in, s->out, LONG / 2 * sizeof(float));
    play_set(&t, &flat);
    const uint32_t settle = (uint32_t)(0.5 * 44100);
    play(&t, (const float *[]){s->in[0], s->in[1]}, (float *[]){s->out[0], s->out[1]}, settle);
    play(&t, (const float *[]){s->in[0], s->in[1]}, (float *[]){s->out[0], s->out[1]}, LONG / 2);
    assert_memory_equal(s->in[0], s->out[0], LONG / 2 * sizeof(float));
    assert_memory_equal(s->in[1], s->out[1], LONG / 2 * sizeof(float));
    play_done(&t);
    free(s);
}

/* Controls move at grid points in both runs; only the blocks differ. One run works in place. */
static void blocks_do_not_matter(void **state)
{
    (void)state;
    static const uint32_t blocks[] = {5, 400, 10, 300, 1, 0};
    enum { MOVE = 64 * DSP_CELL }; /* samples between movements */
    Sound *s = sound(3);
    memcpy(s->other, s->in, sizeof s->in);
    Player a, b;
    assert_true(play_init(&a, &tone, 48000, 2) && play_init(&b, &tone, 48000, 2));
    uint32_t seed_a = seeded(4), seed_b = seed_a, i = 0;
    for (uint32_t at = 0; at < LONG; at += MOVE) {
        const uint32_t n = LONG - at < MOVE ? LONG - at : MOVE;
        const ToneParams p = any_params(&seed_a);
        play_set(&a, &p);
        play(&a, (const float *[]){s->in[0] + at, s->in[1] + at}, (float *[]){s->out[0] + at, s->out[1] + at}, n);
    }
    for (uint32_t at = 0; at < LONG;) {
        if (at % MOVE == 0) {
            const ToneParams p = any_params(&seed_b);
            play_set(&b, &p);
        }
        uint32_t n = blocks[i++ % 6];
        const uint32_t left = MOVE - at % MOVE;
        n = n < left ? n : left;
        n = n < LONG - at ? n : LONG - at;
        if (n == 0 && at % MOVE == 0)
            n = 1; /* one call of tone_set a movement */
        float *const both[] = {s->other[0] + at, s->other[1] + at};
        play(&b, (const float *[]){both[0], both[1]}, both, n);
        at += n;
    }
    assert_memory_equal(s->out, s->other, sizeof s->out);
    play_done(&a);
    play_done(&b);
    free(s);
}

static void channels_do_not_touch(void **state)
{
    (void)state;
    Sound *s = sound(5);
    Player both, left;
    assert_true(play_init(&both, &tone, 48000, 2) && play_init(&left, &tone, 48000, 1));
    play_set(&both, &preset[2]);
    play_set(&left, &preset[2]);
    play(&both, (const float *[]){s->in[0], s->in[1]}, (float *[]){s->out[0], s->out[1]}, LONG);
    mono(&left, s->in[0], s->other[0], LONG);
    assert_memory_equal(s->out[0], s->other[0], sizeof s->out[0]);
    play_done(&both);
    play_done(&left);
    free(s);
}

static void a_reset_is_a_fresh_start(void **state)
{
    (void)state;
    Sound *s = sound(6);
    Player used, fresh;
    assert_true(play_init(&used, &tone, 48000, 1) && play_init(&fresh, &tone, 48000, 1));
    play_set(&used, &preset[0]);
    mono(&used, s->in[1], s->out[1], 5000);
    play_set(&used, &preset[3]);
    mono(&used, s->in[1], s->out[1], 777);
    play_reset(&used);
    play_set(&used, &preset[5]);
    play_set(&fresh, &preset[5]);
    mono(&used, s->in[0], s->out[0], LONG);
    mono(&fresh, s->in[0], s->other[0], LONG);
    assert_memory_equal(s->out[0], s->other[0], sizeof s->out[0]);

    play_set(&used, &preset[0]);
    mono(&used, s->in[1], s->out[1], 5000);
    play_set(&used, &preset[5]);
    mono(&used, s->in[1], s->out[1], 100);
    play_reset(&used); /* without new parameters the last ones hold, though they had not been reached */
    mono(&used, s->in[0], s->out[0], LONG);
    assert_memory_equal(s->out[0], s->other[0], sizeof s->out[0]);
    free(s);
    play_done(&used);
    play_done(&fresh);
}

/* Controls thrown about under a full-scale square at the loudest the caller lets through. */
static void chaos_stays_finite(void **state)
{
    (void)state;
    static const double all_rates[] = {8000, 11025, 22050, 44100, 192000, 384000};
    EACH (r, all_rates) {
        Player t;
        assert_true(play_init(&t, &tone, all_rates[r], 1));
        uint32_t seed = seeded(7);
        double peak = 0.0;
        for (int block = 0; block < 600; ++block) {
            float x[100];
            const ToneParams p = any_params(&seed);
            play_set(&t, &p);
            for (int i = 0; i < 100; ++i)
                x[i] = block % 3 ? (i / 10 % 2 ? DSP_BROKEN : -DSP_BROKEN) : 16.f * noise(&seed);
            mono(&t, x, x, 100);
            for (int i = 0; i < 100; ++i)
                peak = isfinite(x[i]) ? fmax(peak, fabs((double)x[i])) : INFINITY;
        }
        assert_true(peak < 16.0 * 30.0);
        play_done(&t);
    }
}

static void silence_becomes_exact(void **state)
{
    (void)state;
    Sound *s = sound(8);
    Player t;
    assert_true(play_init(&t, &tone, 48000, 1));
    play_set(&t, &preset[0]);
    mono(&t, s->in[0], s->out[0], LONG);
    memset(s->in[0], 0, sizeof s->in[0]);
    for (int i = 0; i < 4; ++i)
        mono(&t, s->in[0], s->out[0], LONG);
    for (int i = 0; i < LONG; ++i)
        assert_true(s->out[0][i] == 0.f);
    for (uint32_t i = 0; i < TONE_SECTIONS; ++i)
        assert_true(inside(&t)->filter.state[0][i].s1 == 0.0 && inside(&t)->filter.state[0][i].s2 == 0.0);
    free(s);
    play_done(&t);
}

typedef struct {
    const char *name;
    double click; /* at most so much, dB: a few dB over what the worst rate shows */
    ToneParams from, to;
} Change;

static double worst_click(const Change *change, double rate)
{
    const uint32_t n = (uint32_t)(0.5 * rate);
    float *x = malloc(n * sizeof *x);
    assert_non_null(x);
    double worst = -200.0;
    for (uint32_t phase = 0; phase < 7; ++phase) {
        const uint32_t at = (uint32_t)(0.3 * rate) + phase * (uint32_t)(rate / 220.0 / 7.0);
        for (uint32_t i = 0; i < n; ++i)
            x[i] = click_sine(i, rate, 0.5);
        Player t;
        assert_true(play_init(&t, &tone, rate, 1));
        play_set(&t, &change->from);
        mono(&t, x, x, at);
        play_set(&t, &change->to);
        mono(&t, x + at, x + at, n - at);
        worst = fmax(worst, click_level(x, n, at, rate, 0.5));
        play_done(&t);
    }
    free(x);
    return worst;
}

static void no_change_clicks(void **state)
{
    (void)state;
#define DIP(f, d, w)                                                                                                   \
    {                                                                                                                  \
        .low_cut = 100, .dip = {{(f), (d), (w), false}, {400, 0, 1, false}, {800, 0, 1, false}}, .air_freq = 12000     \
    }
#define CUT(hz, s)                                                                                                     \
    {                                                                                                                  \
        .low_cut = (hz), .slope = (s), .dip = {{250, 0, 1, false}, {400, 0, 1, false}, {800, 0, 1, false}},            \
        .air_freq = 12000                                                                                              \
    }
#define AIR(hz, db)                                                                                                    \
    {                                                                                                                  \
        .low_cut = 100, .dip = {{250, 0, 1, false}, {400, 0, 1, false}, {800, 0, 1, false}}, .air_freq = (hz),         \
        .air_lift = (db)                                                                                               \
    }
    static const Change changes[] = {
        {"dip 0 to -12 dB", -84, DIP(220, 0, 0.5), DIP(220, -12, 0.5)},
        {"dip -12 to 0 dB", -84, DIP(220, -12, 0.5), DIP(220, 0, 0.5)},
        {"dip 100 to 4000 Hz", -84, DIP(100, -12, 0.2), DIP(4000, -12, 0.2)},
        {"dip 4000 to 100 Hz", -84, DIP(4000, -12, 3), DIP(100, -12, 3)},
        {"dip 0.2 to 3 octaves", -72, DIP(250, -12, 0.2), DIP(250, -12, 3)},
        {"dip 3 to 0.2 octaves", -84, DIP(250, -12, 3), DIP(250, -12, 0.2)},
        {"low cut 20 to 300 Hz", -92, CUT(20, TONE_CUT_24), CUT(300, TONE_CUT_24)},
        {"low cut 300 to 20 Hz", -92, CUT(300, TONE_CUT_18), CUT(20, TONE_CUT_18)},
        {"slope off to 24", -90, CUT(220, TONE_CUT_OFF), CUT(220, TONE_CUT_24)},
        {"slope 24 to off", -90, CUT(220, TONE_CUT_24), CUT(220, TONE_CUT_OFF)},
        {"slope 12 to 18", -95, CUT(220, TONE_CUT_12), CUT(220, TONE_CUT_18)},
        {"slope 18 to 24", -95, CUT(300, TONE_CUT_18), CUT(300, TONE_CUT_24)},
        {"slope 24 to 12", -95, CUT(300, TONE_CUT_24), CUT(300, TONE_CUT_12)},
        {"air 0 to 9 dB", -92, AIR(6000, 0), AIR(6000, 9)},
        {"air 6 to 16 kHz", -92, AIR(6000, 9), AIR(16000, 9)},
    };
    EACH (i, changes)
        for (double rate = 44100; rate < 200000; rate *= 2) {
            char what[80];
            snprintf(what, sizeof what, "%s at %.0f Hz: click", changes[i].name, rate);
            figure_at_most("Tone", what, worst_click(&changes[i], rate), changes[i].click, "dB", "ours; required: -60");
        }
}

/* A control that is turned and turned again, every few milliseconds, as automation does. */
static void turning_all_the_time_does_not_click(void **state)
{
    (void)state;
    const double rate = 48000;
    const uint32_t n = 96000;
    float *x = malloc(n * sizeof *x);
    assert_non_null(x);
    Player t;
    uint32_t seed = seeded(9);
    assert_true(play_init(&t, &tone, rate, 1));
    for (uint32_t at = 0; at < n; at += 480) {
        const ToneParams p = any_params(&seed);
        play_set(&t, &p);
        for (uint32_t i = at; i < at + 480; ++i)
            x[i] = click_sine(i, rate, 0.5);
        mono(&t, x + at, x + at, 480);
    }
    double worst = -200.0;
    for (uint32_t at = 4800; at < n; at += 4800)
        worst = fmax(worst, click_level(x, n, at, rate, 0.5));
    figure_at_most("Tone", "everything turned every 10 ms, 220 Hz sine: click", worst, -85, "dB",
                   "ours; required: -60");
    free(x);
    play_done(&t);
}

static void a_new_value_is_there_soon(void **state)
{
    (void)state;
    const double rate = 48000;
    float x[9600];
    Player t;
    assert_true(play_init(&t, &tone, rate, 1));
    play_set(&t, &flat);
    ToneParams p = flat;
    p.dip[0] = (ToneDip){220, -12, 1, false};
    for (int block = 0; block < 2; ++block) {
        for (uint32_t i = 0; i < 9600; ++i)
            x[i] = click_sine(i, rate, 0.5);
        mono(&t, x, x, 9600);
        play_set(&t, &p);
    }
    double power = 0.0;
    for (uint32_t i = 9600 - 2400; i < 9600; ++i)
        power += (double)x[i] * (double)x[i] / 2400;
    const double db = 10.0 * log10(power / 0.125);
    figure_within("Tone", "a dip of 12 dB, 175 ms after it was asked for", db, -12, 0.1, "dB", "our own");
    play_done(&t);
}

static void bad_arguments_are_refused(void **state)
{
    (void)state;
    Player t;
    assert_false(play_init(&t, &tone, 7999, 1));
    play_done(&t);
    assert_false(play_init(&t, &tone, 400000, 1));
    play_done(&t);
    assert_false(play_init(&t, &tone, 48000, 0));
    play_done(&t);
    assert_false(play_init(&t, &tone, 48000, 3));
    play_done(&t);
    assert_true(play_init(&t, &tone, 48000, 2));
    assert_int_equal(play_latency(&t), 0);
    play(&t, (const float *[]){NULL, NULL}, (float *[]){NULL, NULL}, 0);
    play_done(&t);
}

static double seconds(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* For information: what it costs at rest, and while every control moves. */
static void what_it_costs(void **state)
{
    (void)state;
    Sound *s = sound(10);
    Player t;
    assert_true(play_init(&t, &tone, 48000, 2));
    play_set(&t, &preset[0]);
    double cost[2] = {1, 1};
    uint32_t seed = seeded(11);
    for (int moving = 0; moving < 2; ++moving)
        for (int round = 0; round < 5; ++round) {
            const double start = seconds();
            for (uint32_t at = 0; at < LONG; at += 960) {
                const ToneParams p = moving ? any_params(&seed) : preset[0];
                play_set(&t, &p);
                play(&t, (const float *[]){s->in[0] + at, s->in[1] + at}, (float *[]){s->out[0] + at, s->out[1] + at},
                     960);
            }
            cost[moving] = fmin(cost[moving], seconds() - start);
        }
    figure_timed("Tone", "stereo at 48 kHz, at rest: share of one core", 100 * cost[0], "%");
    figure_timed("Tone", "stereo at 48 kHz, everything moving: share of one core", 100 * cost[1], "%");
    free(s);
    play_done(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_bands_together_follow_the_analog_curve),
        cmocka_unit_test(each_band_sounds_as_designed),
        cmocka_unit_test(nothing_to_do_returns_the_bits),
        cmocka_unit_test(controls_moved_back_to_nothing_return_the_bits),
        cmocka_unit_test(blocks_do_not_matter),
        cmocka_unit_test(channels_do_not_touch),
        cmocka_unit_test(a_reset_is_a_fresh_start),
        cmocka_unit_test(chaos_stays_finite),
        cmocka_unit_test(silence_becomes_exact),
        cmocka_unit_test(no_change_clicks),
        cmocka_unit_test(turning_all_the_time_does_not_click),
        cmocka_unit_test(a_new_value_is_there_soon),
        cmocka_unit_test(bad_arguments_are_refused),
        cmocka_unit_test(what_it_costs),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
