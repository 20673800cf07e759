/* Decimator: the rate, the level at each frequency, what folds back. */
#include "decimate.h"

#include "figure.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#define RATE 48000.0

enum { FACTOR = 6, SETTLED = 4800, MEASURED = 48000 };

/* Power of what comes out of a sine of mean square 1. */
static double power_out(double hz, uint32_t factor, double corner)
{
    Decimator d;
    decimate_init(&d, factor, corner, RATE);
    double sum = 0.0, y;
    uint32_t count = 0;
    for (uint32_t i = 0; i < SETTLED + MEASURED; ++i)
        if (decimate_step(&d, sqrt(2.0) * sin(2.0 * DSP_PI * hz * i / RATE), &y) && i >= SETTLED) {
            sum += y * y;
            ++count;
        }
    assert_int_equal(count, MEASURED / factor);
    return sum / count;
}

static void the_level_is_as_told(void **state)
{
    (void)state;
    static const double hz[] = {50, 300, 1000, 1700, 2000, 2300, 3000};
    double worst = 0.0;
    Decimator d;
    decimate_init(&d, FACTOR, 2000.0, RATE);
    for (size_t i = 0; i < sizeof hz / sizeof *hz; ++i)
        worst =
            fmax(worst, fabs(power_to_db(power_out(hz[i], FACTOR, 2000.0)) - power_to_db(decimate_power(&d, hz[i]))));
    figure_at_most("Decimate", "48 to 8 kHz, corner 2 kHz, 50 to 3000 Hz: level off the told", worst, 0.1, "dB",
                   "our own limit");
}

/* Folded back onto 300 Hz: two octaves above the corner 72 dB of it are gone. */
static void what_folds_back_is_faint(void **state)
{
    (void)state;
    figure_at_most("Decimate", "7.7 kHz folded back onto 300 Hz", power_to_db(power_out(7700.0, FACTOR, 2000.0)), -69.0,
                   "dB", "Butterworth, order 6");
}

static void every_so_manyth_sample(void **state)
{
    (void)state;
    Decimator d;
    double y;
    decimate_init(&d, 5, 2000.0, RATE);
    decimate_step(&d, 1.0, &y);
    decimate_reset(&d);
    for (uint32_t i = 1; i <= 20; ++i) {
        assert_true(decimate_step(&d, 0.0, &y) == (i % 5 == 0));
        assert_true(i % 5 || y == 0.0); /* the reset has cleared the filter */
    }
}

/* In pieces of any length as sample by sample. */
static void runs_are_steps(void **state)
{
    (void)state;
    static const uint32_t piece[] = {1, 32, 7, 0, 20, 3, 31};
    Decimator steps, runs;
    decimate_init(&steps, FACTOR, 2000.0, RATE);
    decimate_init(&runs, FACTOR, 2000.0, RATE);
    for (uint32_t k = 0, at = 0; k < 70; at += piece[k++ % 7]) {
        const uint32_t n = piece[k % 7];
        double x[DSP_CELL], got[DSP_CELL], want[DSP_CELL] = {0.0};
        uint32_t wanted = 0;
        for (uint32_t t = 0; t < n; ++t) {
            x[t] = sin(0.05 * (at + t));
            wanted += decimate_step(&steps, x[t], &want[wanted]);
        }
        assert_int_equal(decimate_run(&runs, x, n, got), wanted);
        for (uint32_t i = 0; i < wanted; ++i)
            assert_true(got[i] == want[i]);
    }
}

static void what_has_died_away_is_hushed(void **state)
{
    (void)state;
    Decimator d;
    decimate_init(&d, FACTOR, 2000.0, RATE);
    for (uint32_t i = 0; i < DECIMATE_SECTIONS; ++i)
        d.state[i] = (SvfState){1e-21, i == 1 ? 1e-3 : -1e-21};
    decimate_hush(&d);
    for (uint32_t i = 0; i < DECIMATE_SECTIONS; ++i)
        assert_true(d.state[i].s1 == 0.0 && d.state[i].s2 == (i == 1 ? 1e-3 : 0.0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_level_is_as_told),         cmocka_unit_test(what_folds_back_is_faint),
        cmocka_unit_test(every_so_manyth_sample),       cmocka_unit_test(runs_are_steps),
        cmocka_unit_test(what_has_died_away_is_hushed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
