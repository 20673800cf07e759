/* The compressor's curve and times against D. Giannoulis, M. Massberg, J. D. Reiss, "Digital Dynamic Range Compressor
 * Design: A Tutorial and Analysis", JAES 60(6), 2012. The figures below were computed from its formulas; the formulas
 * were taken second-hand and from memory, the paper itself was not opened. */
#include "compressor.h"
#include "play.h"

#include "figure.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#define SOURCE "Giannoulis et al. 2012"

/* Threshold -20 dB, ratio 4, knee 10 dB. */
static const struct {
    double in, out;
} table[] = {{-25, -25}, {-22, -22.3375}, {-20, -20.9375}, {-15, -18.75}, {0, -15}};

static void curve_gives_the_table(void **state)
{
    const Curve c = {-20.0, curve_slope(4.0), 10.0};
    double worst = 0.0;
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; ++i)
        worst = fmax(worst, fabs(table[i].in - curve_reduction(&c, table[i].in) - table[i].out));
    figure_at_most("Compressor", "static curve's formula, worst of five points", worst, 1e-12, "dB", SOURCE);
}

/* Where a wanted reduction lies: the curve read the other way, in the knee and above it. */
static void curve_reads_both_ways(void **state)
{
    (void)state;
    double worst = 0.0;
    for (double knee = 0.0; knee <= 18.0; knee += 4.5)
        for (double ratio = 1.25; ratio < 20.0; ratio *= 1.6)
            for (double wanted = 0.5; wanted <= 12.0; wanted += 0.5) {
                const Curve c = {-24.0, curve_slope(ratio), knee};
                worst = fmax(worst, fabs(curve_reduction(&c, c.threshold + curve_over(&c, wanted)) - wanted));
            }
    figure_at_most("Compressor", "static curve solved for the level, against the curve", worst, 1e-12, "dB", SOURCE);
}

static void coefficients_are_the_published_ones(void **state)
{
    (void)state;
    figure_within("Envelope", "one-pole coefficient, 10 ms at 48 kHz", one_pole(0.01, 48000), 0.9979188353, 1e-10, "",
                  SOURCE);
    figure_within("Envelope", "one-pole coefficient, 100 ms at 48 kHz", one_pole(0.1, 48000), 0.9997916884, 1e-10, "",
                  SOURCE);
}

/* The formula once more, as printed, so that the module's own is not its judge. */
static double published(double x, double t, double r, double w)
{
    if (2.0 * (x - t) < -w)
        return x;
    if (2.0 * fabs(x - t) <= w && w > 0.0) {
        const double over = x - t + w / 2.0;
        return x + (1.0 / r - 1.0) * over * over / (2.0 * w);
    }
    return t + (x - t) / r;
}

static float *room(uint32_t n)
{
    float *x = calloc(n, sizeof *x);
    assert_non_null(x);
    return x;
}

/* Peak level of what comes out of a steady 1 kHz sine of this peak level: its energy over the last 0.2 s. */
static double level_out(double rate, const CompressorParams *p, double level)
{
    const uint32_t n = (uint32_t)rate, tail = (uint32_t)(0.2 * rate);
    float *x = room(n);
    for (uint32_t i = 0; i < n; ++i)
        x[i] = (float)(db_to_gain(level) * sin(2.0 * DSP_PI * 1000.0 * i / rate));
    Player *c = malloc(sizeof *c);
    assert_non_null(c);
    assert_true(play_init(c, &compressor, rate, 1));
    play_set(c, p);
    play(c, (const float *const[]){x}, (float *const[]){x}, n);
    play_done(c);
    free(c);
    double sum = 0.0;
    for (uint32_t i = n - tail; i < n; ++i)
        sum += (double)x[i] * (double)x[i];
    free(x);
    return power_to_db(2.0 * sum / tail);
}

static void sine_comes_out_as_published(void **state)
{
    static const double rates[] = {44100, 48000, 96000};
    static const struct {
        double threshold, ratio, knee;
    } curves[] = {{-20, 4, 10}, {-24, 2.5, 6}, {-60, 20, 0}, {-40, 1.5, 18}, {0, 20, 18}, {-30, 1, 6}};
    double worst = 0.0;
    (void)state;
    for (size_t r = 0; r < sizeof rates / sizeof *rates; ++r)
        for (size_t k = 0; k < sizeof curves / sizeof *curves; ++k)
            for (double level = -70.0; level <= 12.0; level += 7.3) {
                const CompressorParams p = {.threshold = curves[k].threshold,
                                            .ratio = curves[k].ratio,
                                            .attack = 1.0,
                                            .release = 10.0,
                                            .knee = curves[k].knee,
                                            .detector_low_cut = 20.0,
                                            .blend = 100.0};
                const double expected = published(level, p.threshold, p.ratio, p.knee);
                worst = fmax(worst, fabs(level_out(rates[r], &p, level) - expected));
            }
    figure_at_most("Compressor", "static curve, 1 kHz, six curves at three rates: worst", worst, 0.01, "dB", SOURCE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(curve_gives_the_table),
        cmocka_unit_test(curve_reads_both_ways),
        cmocka_unit_test(coefficients_are_the_published_ones),
        cmocka_unit_test(sine_comes_out_as_published),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
