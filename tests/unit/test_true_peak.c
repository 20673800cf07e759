/* True peak: how near the reading comes to the peak of the signal between its samples. */
#include "true_peak.h"

#include "figure.h"
#include "seeds.h"
#include "units.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

enum { LENGTH = 8192, RISE = 2048 };

/* A sine of amplitude 1 that comes and goes along a raised cosine. */
static void sine(float *x, double f, double phase)
{
    for (int t = 0; t < LENGTH; ++t) {
        const int edge = t < LENGTH - t ? t : LENGTH - t;
        const double w = edge < RISE ? 0.5 - 0.5 * cos(DSP_PI * edge / RISE) : 1.0;
        x[t] = (float)(w * sin(2.0 * DSP_PI * f * t + phase));
    }
}

static double reading(double rate, double f, double phase)
{
    static float x[LENGTH];
    sine(x, f, phase);
    TruePeak p;
    true_peak_init(&p, rate);
    return gain_to_db(true_peak_above(&p, 0, x, 0.f, LENGTH));
}

typedef struct {
    double rate;
    int points;          /* per sample */
    double highest;      /* frequency / rate */
    double over, ripple; /* dB: limits of over-reading and of reading under what the grid of points explains */
} Case;

static const Case cases[] = {
    {44100, 4, 0.42, 0.06, 0.06},  {48000, 4, 0.42, 0.06, 0.06}, {96000, 2, 0.42, 0.06, 0.06},
    {192000, 1, 0.45, 0.01, 0.01}, {8000, 4, 0.42, 0.06, 0.06},
};

static void sines_read_their_amplitude(void **state)
{
    (void)state;
    double over = 0.0, under = 0.0, audible = 0.0;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; ++i) {
        const Case *c = &cases[i];
        for (double f = 0.01; f <= c->highest; f += 0.0101)
            for (double phase = 0.0; phase < 3.0; phase += 0.7) {
                const double db = reading(c->rate, f, phase);
                const double missed = 20.0 * log10(cos(DSP_PI * f / c->points));
                assert_true(db <= c->over);
                assert_true(db >= missed - c->ripple);
                over = fmax(over, db);
                under = fmin(under, db - missed);
                if (f * c->rate <= 20000.0)
                    audible = fmin(audible, db);
            }
    }
    figure_at_most("True peak", "sines to 0.42 fs: read over their amplitude", over, 0.06, "dB", "requirement");
    figure_at_least("True peak", "sines to 0.42 fs: read under what the grid of points misses", under, -0.01, "dB",
                    "ours; required: -0.06");
    figure_at_least("True peak", "sines to 20 kHz, any rate: reading", audible, -0.02, "dB",
                    "ours; 20 log10 cos(pi f/n), BS.1770 Annex 2: -0.6");
}

/* A sine whose period is a whole, even number of samples meets the points at the same few phases over and over, so its
 * peak can stay halfway between two of them for good: there the formula is the reading, not just its limit. */
static void worst_phase_is_missed_by_what_the_grid_explains(void **state)
{
    (void)state;
    static const double fraction[] = {1.0 / 4.0, 1.0 / 6.0, 1.0 / 8.0, 1.0 / 10.0, 1.0 / 12.0};
    enum { PHASES = 16 };
    double worst = 0.0;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; ++i)
        for (size_t k = 0; k < sizeof fraction / sizeof *fraction; ++k) {
            const double apart = 2.0 * DSP_PI * fraction[k] / cases[i].points;
            double lowest = 0.0;
            for (int phase = 0; phase < PHASES; ++phase)
                lowest = fmin(lowest, reading(cases[i].rate, fraction[k], apart * phase / PHASES));
            worst = fmax(worst, fabs(lowest - 20.0 * log10(cos(0.5 * apart))));
        }
    figure_at_most("True peak", "sines at fs/4 .. fs/12, worst phase: reading against 20 log10 cos(pi f/n)", worst,
                   0.06, "dB", "BS.1770 Annex 2");
}

static void steady_signal_reads_exactly(void **state)
{
    (void)state;
    static float x[1000];
    for (int t = 0; t < 1000; ++t)
        x[t] = 0.25f;
    TruePeak p;
    true_peak_init(&p, 48000.0);
    true_peak_above(&p, 0, x, 0.f, 500);
    assert_float_equal(true_peak_above(&p, 0, x + 500, 0.f, 500), 0.25, 1e-6);
    for (uint32_t i = 0; i < p.between; ++i) { /* the points between the samples too */
        double gain = 0.0;
        for (int k = 0; k < TRUE_PEAK_TAPS; ++k)
            gain += p.tap[i][k];
        assert_float_equal(gain, 1.0, 1e-6);
    }
}

static void blocks_do_not_matter(void **state)
{
    (void)state;
    const uint32_t cut[] = {5, 400, 10, 300, 1, 0};
    static float x[LENGTH];
    for (int trial = 0; trial < 20; ++trial) {
        sine(x, 0.23 + 0.01 * trial, trial);
        TruePeak a, b;
        true_peak_init(&a, 48000.0);
        true_peak_init(&b, 48000.0);
        float whole = true_peak_above(&a, 1, x, 0.f, LENGTH), cuts = 0.f;
        for (uint32_t at = 0, i = 0; at < LENGTH; ++i) {
            const uint32_t m = cut[i % 6] < LENGTH - at ? cut[i % 6] : LENGTH - at;
            cuts = fmaxf(cuts, true_peak_above(&b, 1, x + at, 0.f, m));
            at += m;
        }
        assert_true(whole == cuts);
    }
}

static void reading_comes_after_the_lag(void **state)
{
    (void)state;
    TruePeak p;
    true_peak_init(&p, 48000.0);
    const float one = 1.f, zero = 0.f;
    float got = true_peak_above(&p, 0, &one, 0.f, 1);
    uint32_t late = 0;
    for (; got < 1.f && late < 100; ++late)
        got = true_peak_above(&p, 0, &zero, 0.f, 1);
    assert_int_equal(late, TRUE_PEAK_LAG);
}

/* One sample or several that are missing, anywhere in a sine: what rings beside the gap is no peak. */
static void gaps_are_no_peaks(void **state)
{
    (void)state;
    for (int length = 1; length < 40; length += 3) {
        TruePeak p;
        true_peak_init(&p, 48000.0);
        static float x[4000];
        for (int t = 0; t < 4000; ++t)
            x[t] = t % 97 >= 97 - length ? 0.f : 0.1f * (float)sin(0.05 * t + 0.01);
        const float got = true_peak_above(&p, 0, x, 0.f, 4000);
        assert_true(got <= 0.1006f); /* 0.05 dB */
        assert_true(got >= 0.0999f);
    }
}

/* A click of one sample, up or down, in a soft wave. */
static void a_peak_counts_whichever_way_it_points(void **state)
{
    (void)state;
    static float x[2][LENGTH];
    float read[2];
    for (int down = 0; down < 2; ++down) {
        sine(x[down], 0.07, 1.0);
        for (int t = 0; t < LENGTH; ++t)
            x[down][t] *= down ? -0.01f : 0.01f;
        x[down][LENGTH / 2] = down ? -0.8f : 0.8f;
        TruePeak p;
        true_peak_init(&p, 48000);
        read[down] = true_peak_above(&p, 0, x[down], 0.f, LENGTH);
    }
    assert_true(read[0] >= 0.8f && read[0] == read[1]);
}

/* A sine at a quarter of the rate that is 0 in every other sample is none. */
static void zero_crossings_are_no_gaps(void **state)
{
    (void)state;
    TruePeak p;
    true_peak_init(&p, 48000.0);
    static float x[400];
    for (int t = 0; t < 400; ++t)
        x[t] = t % 2 ? 0.f : t % 4 ? -0.5f : 0.5f;
    true_peak_above(&p, 0, x, 0.f, 400);
    for (int t = 0; t < 400; ++t)
        x[t] = t % 3 == 0 ? 0.f : t % 3 == 1 ? 0.5f : -0.5f;
    assert_true(true_peak_above(&p, 0, x, 0.f, 400) > 0.55f);
}

/* Sound with peaks, gaps, single zeros and silence. */
static float odd_sound(uint32_t k, uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    const float noise = (float)(int32_t)*seed / 2147483648.f;
    const float level = k % 1000 < 100 ? 1.f : k % 1000 < 500 ? 0.3f : 0.05f;
    return k % 3000 < 400 || *seed >> 27 == 0 || k % 700 < 3 ? 0.f : level * noise;
}

/* What lies above `enough` is the same to the bit, and what lies below stays below; at every rate, in any pieces. */
static void enough_leaves_out_nothing_above_it(void **state)
{
    enum { N = 40000 };
    static const double rates[] = {48000, 96000, 192000};
    static const float levels[] = {0.02f, 0.2f, 0.5f, 0.9f, 1.5f};
    (void)state;
    for (int r = 0; r < 3; ++r)
        for (int e = 0; e < 5; ++e) {
            TruePeak all, some;
            uint32_t seed = seeded(5), above = 0, n = 1;
            true_peak_init(&all, rates[r]);
            true_peak_init(&some, rates[r]);
            for (uint32_t at = 0; at < N; at += n, n = n * 7 % DSP_CELL + 1) {
                float x[DSP_CELL] = {0}, exact[DSP_CELL] = {0}, got[DSP_CELL] = {0}, highest = 0.f;
                for (uint32_t k = 0; k < n; ++k)
                    x[k] = odd_sound(at + k, &seed);
                const float sample = true_peak_sample(&some, 0, x, n);
                true_peak_points(&all, 0, x, 0.f, exact, n);
                true_peak_points(&some, 0, x, levels[e], got, n);
                for (uint32_t k = 0; k < n; ++k) {
                    assert_true(exact[k] > levels[e] ? got[k] == exact[k] : got[k] <= exact[k]);
                    above += exact[k] > levels[e];
                    highest = fmaxf(highest, exact[k]);
                }
                assert_true(sample <= highest);
            }
            assert_true(above > 0 || levels[e] > 1.f);
        }
}

/* What is skipped is taken in all the same: what comes after it reads as if all had been read. */
static void skipping_leaves_no_mark(void **state)
{
    enum { N = 60000 };
    (void)state;
    TruePeak all, some;
    uint32_t seed = seeded(6), n = 1, skipped = 0;
    true_peak_init(&all, 48000);
    true_peak_init(&some, 48000);
    for (uint32_t at = 0; at < N; at += n, n = n * 11 % DSP_CELL + 1) {
        float x[DSP_CELL] = {0}, exact[DSP_CELL] = {0}, got[DSP_CELL] = {0};
        for (uint32_t k = 0; k < n; ++k)
            x[k] = odd_sound(at + k, &seed);
        const FourSpan span = four_span(x, n);
        true_peak_points(&all, 0, x, 0.f, exact, n);
        const bool under = true_peak_stays_under(&some, 0, span, 0.4f);
        for (uint32_t k = 0; k < n && under; ++k)
            assert_true(exact[k] <= 0.4f);
        skipped += under;
        if (under)
            true_peak_skip(&some, 0, x, span, n);
        else
            true_peak_points(&some, 0, x, 0.f, got, n);
        if (!under)
            assert_memory_equal(exact, got, sizeof got);
    }
    assert_true(skipped > 500);
}

static void channels_are_apart_and_reset_clears(void **state)
{
    (void)state;
    TruePeak p;
    true_peak_init(&p, 48000.0);
    static float loud[64], quiet[64];
    for (int t = 0; t < 64; ++t)
        loud[t] = 0.9f;
    true_peak_above(&p, 0, loud, 0.f, 64);
    assert_true(true_peak_above(&p, 1, quiet, 0.f, 64) == 0.f);
    true_peak_reset(&p);
    assert_true(true_peak_above(&p, 0, quiet, 0.f, 64) == 0.f);
    assert_true(true_peak_above(&p, 0, loud, 0.f, 0) == 0.f);
}

/* What is known already is all that comes back where nothing lies above it, whatever is left out on the way. */
static void what_lies_above_is_exact(void **state)
{
    (void)state;
    static float x[LENGTH];
    TruePeak p, q;
    true_peak_init(&p, 48000.0);
    true_peak_init(&q, 48000.0);
    for (uint32_t i = 0; i < LENGTH; ++i)
        x[i] = (float)(0.5 * sin(2.0 * i + 0.3) * (i < LENGTH / 2 ? 0.1 : 1.0));
    const float highest = true_peak_above(&p, 0, x, 0.f, LENGTH);
    assert_true(highest > 0.4f);
    true_peak_reset(&p);
    assert_true(true_peak_above(&p, 0, x, 0.3f, LENGTH) == highest);
    assert_true(true_peak_above(&q, 0, x, 0.6f, LENGTH) == 0.6f);
    const float more = true_peak_above(&p, 0, x, 0.f, 64); /* either has the same past */
    assert_true(true_peak_above(&q, 0, x, 0.f, 64) == more);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sines_read_their_amplitude),
        cmocka_unit_test(worst_phase_is_missed_by_what_the_grid_explains),
        cmocka_unit_test(steady_signal_reads_exactly),
        cmocka_unit_test(blocks_do_not_matter),
        cmocka_unit_test(reading_comes_after_the_lag),
        cmocka_unit_test(gaps_are_no_peaks),
        cmocka_unit_test(a_peak_counts_whichever_way_it_points),
        cmocka_unit_test(zero_crossings_are_no_gaps),
        cmocka_unit_test(enough_leaves_out_nothing_above_it),
        cmocka_unit_test(skipping_leaves_no_mark),
        cmocka_unit_test(channels_are_apart_and_reset_clears),
        cmocka_unit_test(what_lies_above_is_exact),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
