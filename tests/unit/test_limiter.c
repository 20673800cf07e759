/* The limiter: nothing passes, what does not need it is left alone, and how it lets go. */
#include "limiter.h"

#include "click.h"
#include "figure.h"
#include "seeds.h"
#include "units.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const double rates[] = {8000, 11025, 44100, 48000, 96000, 192000, 384000};
enum { RATES = sizeof rates / sizeof *rates, LATE = 10 };

static Limiter *limiter_at(double rate, uint32_t channels)
{
    Limiter *l = malloc(sizeof *l);
    assert_non_null(l);
    assert_true(limiter_init(l, rate, channels, LATE));
    return l;
}

static void drop(Limiter *l)
{
    limiter_done(l);
    free(l);
}

/* Ceiling 1, the word LATE samples after the sample, in pieces of at most `piece`. */
static void through(Limiter *l, const float *x, float *y, uint32_t n, uint32_t piece)
{
    for (uint32_t at = 0; at < n;) {
        const uint32_t left = DSP_CELL - at % DSP_CELL, most = left < piece ? left : piece;
        const uint32_t m = n - at < most ? n - at : most;
        float over[DSP_CELL];
        if (at % DSP_CELL == 0)
            limiter_tick(l);
        for (uint32_t i = 0; i < m; ++i)
            over[i] = at + i < LATE ? 0.f : fabsf(x[at + i - LATE]);
        memcpy(y + at, x + at, m * sizeof *y);
        limiter_process(l, over, (float *const[]){y + at}, m);
        at += m;
    }
}

static double highest(const float *x, uint32_t n)
{
    double most = 0.0;
    for (uint32_t i = 0; i < n; ++i)
        most = fmax(most, fabs((double)x[i]));
    return most;
}

enum { LONG = 60000 };
static float x[LONG], y[LONG], z[LONG];

static float noise(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (float)(*seed / 2147483648.0 - 1.0);
}

/* Runs of noise of every level up to 50 dB over, with every kind of edge. */
static void bursts_of_noise(uint32_t number)
{
    uint32_t seed = seeded(number);
    double level = 0.0;
    for (uint32_t t = 0; t < LONG; ++t) {
        if (noise(&seed) > 0.998f)
            level = pow(10.0, 1.25 * noise(&seed) + 1.25);
        x[t] = (float)(level * noise(&seed));
    }
}

static void nothing_passes_the_ceiling(void **state)
{
    (void)state;
    double worst = 0.0;
    for (int r = 0; r < RATES; ++r)
        for (uint32_t seed = 1; seed <= 4; ++seed) {
            Limiter *l = limiter_at(rates[r], 1);
            bursts_of_noise(seed);
            through(l, x, y, LONG, DSP_CELL);
            assert_true(highest(x, LONG) > 100.0);
            worst = fmax(worst, highest(y, LONG));
            drop(l);
        }
    figure_at_most("Limiter", "noise in bursts up to 50 dB over, any rate: highest sample over the ceiling",
                   gain_to_db(worst), 1e-6, "dB", "own limit: rounding of a float");
}

static void look_ahead_is_2_ms_at_most(void **state)
{
    (void)state;
    for (int r = 0; r < RATES; ++r) {
        Limiter *l = limiter_at(rates[r], 1);
        assert_in_range(l->latency, (uint32_t)(0.002 * rates[r]) - 2, (uint32_t)(0.002 * rates[r]));
        drop(l);
    }
}

/* A single sample over: how long the gain is touched, and that it is exactly 1 before and after. */
static void lets_go_and_leaves_nothing(void **state)
{
    (void)state;
    double longest = 0.0;
    for (int r = 0; r < RATES; ++r)
        for (uint32_t when = 3000; when < 3040; when += 13) {
            const uint32_t n = 4000 + (uint32_t)(0.12 * rates[r]);
            Limiter *l = limiter_at(rates[r], 1);
            for (uint32_t t = 0; t < n; ++t)
                x[t] = t == when ? 20.f : 0.3f;
            through(l, x, y, n, DSP_CELL);
            uint32_t touched = 0;
            for (uint32_t t = l->latency; t < n; ++t)
                touched += y[t] != x[t - l->latency];
            longest = fmax(longest, touched / rates[r]);
            for (uint32_t t = l->latency; t < when; ++t)
                assert_true(y[t] == x[t - l->latency]);
            assert_int_equal(l->moving, 0);
            assert_true(limiter_turned_down(l) == 0.0);
            drop(l);
        }
    figure_at_most("Limiter", "one sample 26 dB over: the sound is touched for", longest, 0.11, "s", "own limit");
}

/* Amplitude of the k-th harmonic. */
static double harmonic(const float *v, uint32_t n, double hz, double rate)
{
    double re = 0.0, im = 0.0;
    for (uint32_t t = 0; t < n; ++t) {
        re += v[t] * cos(2.0 * DSP_PI * hz * t / rate);
        im += v[t] * sin(2.0 * DSP_PI * hz * t / rate);
    }
    return 2.0 * sqrt(re * re + im * im) / n;
}

/* Root of the sum of squares of the 2nd to 20th harmonic, against the first. */
static double distortion(double hz, double over_db)
{
    const double rate = 48000.0;
    Limiter *l = limiter_at(rate, 1);
    for (uint32_t t = 0; t < LONG; ++t)
        x[t] = (float)(db_to_gain(over_db) * sin(2.0 * DSP_PI * hz * t / rate));
    through(l, x, y, LONG, DSP_CELL);
    drop(l);
    const float *settled = y + 12000;
    double sum = 0.0;
    for (int k = 2; k <= 20; ++k)
        sum += pow(harmonic(settled, 48000, k * hz, rate), 2.0);
    return 100.0 * sqrt(sum) / harmonic(settled, 48000, hz, rate);
}

static void low_notes_keep_their_shape(void **state)
{
    (void)state;
    figure_at_most("Limiter", "100 Hz, 6 dB over the ceiling: THD", distortion(100.0, 6.0), 0.01, "%", "own limit");
    figure_at_most("Limiter", "60 Hz, 6 dB over: THD", distortion(60.0, 6.0), 0.01, "%", "own limit");
    figure_at_most("Limiter", "30 Hz, 6 dB over: THD", distortion(30.0, 6.0), 0.01, "%", "own limit");
    figure_note("Limiter", "20 Hz, 6 dB over: THD", distortion(20.0, 6.0), "%");
    figure_at_most("Limiter", "100 Hz, 30 dB over: THD", distortion(100.0, 30.0), 0.01, "%", "own limit");
}

/* A low sine beside which the other channel bursts: what the gain's way down and up leaves above 4 kHz. */
static double click_of(double over_db, uint32_t long_for)
{
    const double rate = 48000.0;
    enum { WHEN = 24000 };
    double worst = -200.0;
    for (uint32_t shift = 0; shift < 220; shift += 31) {
        Limiter *l = limiter_at(rate, 2);
        for (uint32_t t = 0; t < 48000; t += DSP_CELL) {
            float sine[DSP_CELL], other[DSP_CELL], over[DSP_CELL];
            limiter_tick(l);
            for (uint32_t i = 0; i < DSP_CELL; ++i) {
                const uint32_t at = t + i, since = at - WHEN - shift;
                sine[i] = click_sine(at, rate, 0.5);
                other[i] = at >= WHEN + shift && since < long_for ? (float)db_to_gain(over_db) : 0.f;
                over[i] = at >= WHEN + shift + LATE && since - LATE < long_for ? (float)db_to_gain(over_db) : 0.f;
            }
            limiter_process(l, over, (float *const[]){sine, other}, DSP_CELL);
            memcpy(y + t, sine, sizeof sine);
        }
        for (uint32_t from = WHEN + shift; from < 40000; from += 4800)
            worst = fmax(worst, click_level(y, 48000, from, rate, 0.5));
        drop(l);
    }
    return worst;
}

static void no_click_down_or_up(void **state)
{
    (void)state;
    figure_at_most("Limiter", "6 dB over for 1 ms, 220 Hz beside it: left above 4 kHz", click_of(6.0, 48), -60.0, "dB",
                   "requirement: -60");
    figure_at_most("Limiter", "30 dB over for 1 ms, the same", click_of(30.0, 48), -60.0, "dB", "requirement: -60");
    figure_at_most("Limiter", "30 dB over for 100 ms, the same", click_of(30.0, 4800), -60.0, "dB", "requirement: -60");
}

static void pieces_do_not_matter(void **state)
{
    (void)state;
    bursts_of_noise(9);
    for (uint32_t t = 20000; t < 40000; ++t)
        x[t] *= 0.001f; /* it rests in between */
    static const uint32_t piece[] = {1, 3, 7, 31};
    Limiter *whole = limiter_at(44100.0, 1);
    through(whole, x, y, LONG, DSP_CELL);
    for (int p = 0; p < 4; ++p) {
        Limiter *l = limiter_at(44100.0, 1);
        through(l, x, z, LONG, piece[p]);
        assert_memory_equal(y, z, sizeof y);
        drop(l);
    }
    drop(whole);
}

static void over_for_once(Limiter *l)
{
    float sample = 2.f, over = 2.f;
    limiter_process(l, &over, (float *const[]){&sample}, 1);
}

static void at_rest_passing_is_processing(void **state)
{
    enum { CELLS = 40 };
    (void)state;
    Limiter *a = limiter_at(48000.0, 1), *b = limiter_at(48000.0, 1);
    for (uint32_t k = 0; k < CELLS; ++k) {
        float first[DSP_CELL], second[DSP_CELL], over[DSP_CELL];
        for (uint32_t t = 0; t < DSP_CELL; ++t) {
            first[t] = second[t] = sinf(0.1f * (float)(k * DSP_CELL + t));
            over[t] = 1.f; /* at the ceiling, not over it */
        }
        limiter_tick(a);
        limiter_tick(b);
        assert_true(limiter_rests(b));
        limiter_process(a, over, (float *const[]){first}, DSP_CELL);
        limiter_pass(b, (const float *const[]){second}, (float *const[]){second}, DSP_CELL);
        assert_memory_equal(first, second, sizeof first);
    }
    over_for_once(a);
    assert_true(!limiter_rests(a));
    drop(a);
    drop(b);
}

static void a_reset_starts_clean(void **state)
{
    (void)state;
    Limiter *l = limiter_at(48000.0, 1), *fresh = limiter_at(48000.0, 1);
    bursts_of_noise(3);
    through(l, x, y, LONG, DSP_CELL);
    assert_true(l->moving > 0);
    limiter_reset(l);
    through(l, x, y, LONG, DSP_CELL);
    through(fresh, x, z, LONG, DSP_CELL);
    assert_memory_equal(y, z, sizeof y);
    drop(l);
    drop(fresh);
}

static void bad_rates_and_channels_are_refused(void **state)
{
    (void)state;
    Limiter l;
    assert_false(limiter_init(&l, 7999.0, 1, LATE));
    limiter_done(&l);
    assert_false(limiter_init(&l, 48000.0, 0, LATE));
    limiter_done(&l);
    assert_false(limiter_init(&l, 48000.0, 3, LATE));
    limiter_done(&l);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_passes_the_ceiling),
        cmocka_unit_test(look_ahead_is_2_ms_at_most),
        cmocka_unit_test(lets_go_and_leaves_nothing),
        cmocka_unit_test(low_notes_keep_their_shape),
        cmocka_unit_test(no_click_down_or_up),
        cmocka_unit_test(pieces_do_not_matter),
        cmocka_unit_test(at_rest_passing_is_processing),
        cmocka_unit_test(a_reset_starts_clean),
        cmocka_unit_test(bad_rates_and_channels_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
