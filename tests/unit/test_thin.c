/* Thinning out: what passes and what does not, how late it comes, and that nothing depends on how the samples come. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "figure.h"
#include "seeds.h"
#include "thin.h"

static const uint32_t factors[] = {1, 2, 5, 6, 48};

enum { FACTORS = sizeof factors / sizeof *factors, KEPT = 2000, SETTLED = KEPT - THIN_TAPS, LONG = 48 * KEPT };

#define CORNER 0.275 /* of the slower rate, as the pitch tracker has it */

/* x: LONG samples or fewer; kept: as many places. Returns how many were kept. */
static uint32_t thin_all(Thin *t, const float *x, uint32_t n, float *kept)
{
    uint32_t count = 0;
    for (uint32_t at = 0; at < n; at += DSP_CELL) {
        float out[DSP_CELL];
        const uint32_t some = thin_run(t, x + at, n - at < DSP_CELL ? n - at : DSP_CELL, out);
        memcpy(kept + count, out, some * sizeof *out);
        count += some;
    }
    return count;
}

/* dB, of a sine at `wanted` of the slower rate, or the nearest that makes whole periods. */
static double gain_at(uint32_t factor, double wanted)
{
    const double share = round(wanted * SETTLED) / SETTLED;
    static float x[LONG], y[LONG];
    const uint32_t n = factor * KEPT;
    Thin t;
    assert_true(thin_init(&t, factor, CORNER, factor));
    for (uint32_t i = 0; i < n; ++i)
        x[i] = (float)cos(2.0 * DSP_PI * share * i / factor);
    const uint32_t count = thin_all(&t, x, n, y);
    thin_done(&t);
    assert_int_equal(count, KEPT);
    double re = 0.0, im = 0.0;
    for (uint32_t k = THIN_TAPS; k < count; ++k) {
        re += (double)y[k] * cos(2.0 * DSP_PI * share * k);
        im += (double)y[k] * sin(2.0 * DSP_PI * share * k);
    }
    return 20.0 * log10(2.0 * hypot(re, im) / SETTLED + 1e-9);
}

static void it_passes_what_is_below_and_stops_what_is_above(void **state)
{
    (void)state;
    double pass = 0.0, stop = -200.0, corner = 0.0;
    for (int f = 0; f < FACTORS; ++f) {
        for (double share = 0.0025; share <= CORNER - 0.1; share += 0.0125)
            pass = fmax(pass, fabs(gain_at(factors[f], share)));
        for (double share = CORNER + 0.1107; share < fmin(0.5 * factors[f], 3.0); share += 0.0125)
            stop = fmax(stop, gain_at(factors[f], share));
        corner = fmax(corner, fabs(gain_at(factors[f], CORNER) + 6.02));
    }
    figure_at_most("Thin", "a tenth of the slower rate under the corner: off by", pass, 0.05, "dB", "thin.h");
    figure_at_most("Thin", "0.11 of it over the corner: passes", stop, -49.0, "dB", "thin.h");
    figure_at_most("Thin", "at the corner, off 6 dB by", corner, 0.1, "dB", "thin.h");
}

/* An impulse comes out THIN_TAPS / 2 kept samples later. */
static void a_sound_comes_as_late_as_told(void **state)
{
    (void)state;
    static float x[LONG], y[LONG];
    for (int f = 0; f < FACTORS; ++f) {
        const uint32_t n = 100 * factors[f];
        Thin t;
        assert_true(thin_init(&t, factors[f], CORNER, factors[f]));
        double middle = 0.0, sum = 0.0;
        memset(x, 0, sizeof x);
        x[40 * (size_t)factors[f]] = 1.f;
        const uint32_t count = thin_all(&t, x, n, y);
        for (uint32_t k = 0; k < count; ++k) {
            sum += (double)(y[k] * y[k]);
            middle += (double)(y[k] * y[k]) * (k + 1.0) * factors[f];
        }
        assert_true(fabs(middle / sum - (40.0 + 0.5 * THIN_TAPS) * factors[f]) <= 0.6 * factors[f] + 0.5);
        thin_done(&t);
    }
}

static void pieces_do_not_matter_and_a_reset_forgets(void **state)
{
    (void)state;
    enum { SHORT = 4000 };
    static float x[SHORT], whole[SHORT], cut[SHORT];
    uint32_t seed = seeded(1);
    for (int i = 0; i < SHORT; ++i) {
        seed = seed * 1664525u + 1013904223u;
        x[i] = (float)((int32_t)seed) / 2147483648.f;
    }
    for (int f = 0; f < FACTORS; ++f) {
        Thin t;
        assert_true(thin_init(&t, factors[f], CORNER, factors[f]));
        const uint32_t count = thin_all(&t, x, SHORT, whole);
        thin_reset(&t);
        uint32_t got = 0;
        for (uint32_t at = 0, n = 1; at < SHORT; at += n, n = n % DSP_CELL + 1) {
            n = n < SHORT - at ? n : SHORT - at;
            float out[DSP_CELL];
            const uint32_t some = thin_run(&t, x + at, n, out);
            memcpy(cut + got, out, some * sizeof *out);
            got += some;
        }
        assert_int_equal(got, count);
        assert_memory_equal(whole, cut, count * sizeof *whole);
        thin_done(&t);
    }
}

/* Nothing is left of a sound after as many samples as there are taps, and nothing is made of what is too quiet. */
static void silence_is_exact(void **state)
{
    (void)state;
    float x[DSP_CELL], out[DSP_CELL];
    Thin t;
    assert_true(thin_init(&t, 6, CORNER, 6.0));
    for (int i = 0; i < DSP_CELL; ++i)
        x[i] = 1e-39f;
    for (uint32_t k = thin_run(&t, x, DSP_CELL, out); k-- > 0;)
        assert_true(out[k] == 0.f);
    x[0] = 1.f;
    thin_run(&t, x, DSP_CELL, out);
    x[0] = 0.f;
    for (int cell = 0; cell < THIN_TAPS * 6 / DSP_CELL; ++cell)
        thin_run(&t, x, DSP_CELL, out);
    for (uint32_t k = thin_run(&t, x, DSP_CELL, out); k-- > 0;)
        assert_true(out[k] == 0.f);
    thin_done(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_passes_what_is_below_and_stops_what_is_above),
        cmocka_unit_test(a_sound_comes_as_late_as_told),
        cmocka_unit_test(pieces_do_not_matter_and_a_reset_forgets),
        cmocka_unit_test(silence_is_exact),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
