/* Loudness: K weighting at any rate, and the meter's own promises. The standards' cases are in tests/published. */
#include "loudness.h"

#include "figure.h"
#include "seeds.h"
#include "units.h"
#include "values.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const double rates[] = {8000, 11025, 16000, 22050, 44100, 48000, 88200, 96000, 176400, 192000, 384000};
enum { RATES = sizeof rates / sizeof *rates };

static double noise(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (double)*seed / 2147483648.0 - 1.0;
}

/* Noise whose level wanders between -60 and 0 dB, so that both gates have work. */
static float *wandering(uint32_t n, double rate, uint32_t seed)
{
    float *x = malloc(n * sizeof *x);
    assert_non_null(x);
    for (uint32_t t = 0; t < n; ++t)
        x[t] = (float)(noise(&seed) * db_to_gain(-30.0 + 30.0 * sin(2.0 * DSP_PI * 0.043 * t / rate)));
    return x;
}

static double k_gain_db(double hz, double rate)
{
    const Biquad shelf = kweight_design(0, rate), pass = kweight_design(1, rate);
    return gain_to_db(biquad_gain(&shelf, hz, rate) * biquad_gain(&pass, hz, rate));
}

static void k_curve_is_the_same_at_every_rate(void **state)
{
    (void)state;
    double worst = 0.0, worst_44 = 0.0;
    for (uint32_t r = 0; r < RATES; ++r)
        for (double hz = 20.0; hz < 0.1 * rates[r] && hz < 8000.0; hz *= 1.1) {
            const double off = fabs(k_gain_db(hz, rates[r]) - k_gain_db(hz, 48000.0));
            worst = fmax(worst, off);
            if (rates[r] == 44100.0)
                worst_44 = fmax(worst_44, off);
        }
    figure_at_most("Loudness", "K curve, any rate against 48 kHz, to a tenth of the rate", worst, 0.2, "dB",
                   "requirement");
    figure_at_most("Loudness", "K curve, 44.1 kHz against 48 kHz, to a tenth of the rate", worst_44, 0.01, "dB",
                   "requirement");
}

static void running_filter_is_the_designed_one(void **state)
{
    (void)state;
    for (uint32_t r = 0; r < RATES; ++r) {
        KWeight k;
        kweight_init(&k, rates[r]);
        const double hz = 997.0;
        double in = 0.0, out = 0.0;
        for (uint32_t t = 0; t < (uint32_t)rates[r]; ++t) {
            const double x = sin(2.0 * DSP_PI * hz * t / rates[r]);
            double y = x;
            kweight_run(&k, 0, &y, 1);
            if (t >= (uint32_t)(rates[r] / 2.0)) {
                in += x * x;
                out += y * y;
            }
        }
        assert_float_equal(power_to_db(out / in), k_gain_db(hz, rates[r]), 0.01);
    }
}

static void blocks_do_not_matter(void **state)
{
    (void)state;
    const double rate = 48000.0;
    const uint32_t n = 10 * 48000, cut[] = {5, 400, 10, 300, 1, 0};
    float *l = wandering(n, rate, 1), *r = wandering(n, rate, 2);
    Loudness *whole = malloc(sizeof *whole), *cuts = malloc(sizeof *cuts);
    assert_non_null(whole);
    assert_non_null(cuts);
    loudness_init(whole, rate, 2);
    loudness_init(cuts, rate, 2);
    loudness_process(whole, (const float *[]){l, r}, n);
    for (uint32_t at = 0, i = 0; at < n; ++i) {
        const uint32_t m = cut[i % 6] < n - at ? cut[i % 6] : n - at;
        loudness_process(cuts, (const float *[]){l + at, r + at}, m);
        at += m;
    }
    assert_memory_equal(whole, cuts, sizeof *whole);
    free(whole);
    free(cuts);
    free(l);
    free(r);
}

static void init_is_a_fresh_start(void **state)
{
    (void)state;
    const uint32_t n = 200000;
    float *x = wandering(n, 48000.0, 3);
    Loudness *used = malloc(sizeof *used), *fresh = malloc(sizeof *fresh);
    assert_non_null(used);
    assert_non_null(fresh);
    loudness_init(used, 48000.0, 1);
    loudness_init(fresh, 48000.0, 1);
    loudness_process(used, (const float *[]){x}, n);
    loudness_init(used, 48000.0, 1);
    loudness_process(used, (const float *[]){x}, n);
    loudness_process(fresh, (const float *[]){x}, n);
    assert_true(loudness_integrated(used) == loudness_integrated(fresh));
    assert_true(loudness_now_momentary(&used->now) == loudness_now_momentary(&fresh->now));
    assert_true(loudness_now_short_term(&used->now) == loudness_now_short_term(&fresh->now));
    free(used);
    free(fresh);
    free(x);
}

static void silence_reads_the_floor(void **state)
{
    (void)state;
    static const float zero[48000];
    Loudness *l = malloc(sizeof *l);
    assert_non_null(l);
    loudness_init(l, 48000.0, 1);
    for (int second = 0; second < 5; ++second) {
        assert_true(loudness_now_momentary(&l->now) == LOUDNESS_LOW);
        assert_true(loudness_now_short_term(&l->now) == LOUDNESS_LOW);
        assert_true(loudness_integrated(l) == LOUDNESS_LOW);
        loudness_process(l, (const float *[]){zero}, 48000);
    }
    free(l);
}

enum { HOPS = 600 };

/* The definition itself, over a list of all blocks. */
static double listed_integrated(const double *hop)
{
    double gate = db_to_power(-70.0 + 0.691), mean = 0.0;
    for (int pass = 0; pass < 2; ++pass) {
        double sum = 0.0, blocks = 0.0;
        for (int i = 3; i < HOPS; ++i) {
            const double block = (hop[i] + hop[i - 1] + hop[i - 2] + hop[i - 3]) / 4.0;
            if (block > gate) {
                sum += block;
                blocks += 1.0;
            }
        }
        mean = sum / blocks;
        gate = mean / 10.0;
    }
    return -0.691 + power_to_db(mean);
}

static void bounded_memory_gates_like_the_full_list(void **state)
{
    (void)state;
    const double rate = 48000.0;
    double worst = 0.0;
    Loudness *l = malloc(sizeof *l);
    assert_non_null(l);
    for (uint32_t seed = 1; seed <= 3; ++seed) {
        const uint32_t n = HOPS * 4800;
        float *x = wandering(n, rate, seeded(seed));
        double hop[HOPS] = {0};
        KWeight k;
        kweight_init(&k, rate);
        for (uint32_t t = 0; t < n; ++t) {
            double z = (double)x[t];
            kweight_run(&k, 0, &z, 1);
            hop[t / 4800] += z * z / 4800.0;
        }
        loudness_init(l, rate, 1);
        loudness_process(l, (const float *[]){x}, n);
        worst = fmax(worst, fabs(loudness_integrated(l) - listed_integrated(hop)));
        free(x);
    }
    figure_at_most("Loudness", "integrated, bounded memory against the full list of blocks", worst, 0.02, "LU",
                   "requirement; wide: other seeds put a block on a gate, 0.0165");
    free(l);
}

static void extremes_stay_finite(void **state)
{
    (void)state;
    Loudness *l = malloc(sizeof *l);
    assert_non_null(l);
    loudness_init(l, 8000.0, 1);
    for (uint32_t t = 0; t < 80000; ++t) {
        const float x = t < 20000 ? 16.f : t % 2 ? 1e-38f : 0.f;
        loudness_process(l, (const float *[]){&x}, 1);
    }
    assert_true(isfinite(loudness_integrated(l)));
    for (uint32_t stage = 0; stage < 2; ++stage)
        assert_true(fabs(l->now.weight.state[stage][0].s1) < 1e-15);
    free(l);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(k_curve_is_the_same_at_every_rate),
        cmocka_unit_test(running_filter_is_the_designed_one),
        cmocka_unit_test(blocks_do_not_matter),
        cmocka_unit_test(init_is_a_fresh_start),
        cmocka_unit_test(silence_reads_the_floor),
        cmocka_unit_test(bounded_memory_gates_like_the_full_list),
        cmocka_unit_test(extremes_stay_finite),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
