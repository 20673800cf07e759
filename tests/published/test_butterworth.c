/* Butterworth filters against the textbook: S. Butterworth, "On the Theory of Filter Amplifiers" (1930; title from
 * memory), |H|^2 = 1 / (1 + (fc/f)^2n) for a high-pass. The figures were computed from that formula, the section Q from
 * the pole angles 1 / (2 cos), with scipy (scipy.signal.buttap). */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "design.h"
#include "figure.h"

static double cascade_db(const Biquad *section, uint32_t n, double hz, double rate)
{
    double db = 0.0;
    for (uint32_t i = 0; i < n; ++i)
        db += 20.0 * log10(biquad_gain(&section[i], hz, rate));
    return db;
}

static void the_curve_passes_through_the_published_points(void **state)
{
    (void)state;
    static const struct {
        uint32_t order;
        double db[4]; /* at fc/4, fc/2, fc, 2 fc */
    } row[] = {
        {2, {-24.0993, -12.3045, -3.0103, -0.2633}},
        {3, {-36.1247, -18.1291, -3.0103, -0.0673}},
        {4, {-48.1649, -24.0993, -3.0103, -0.0169}},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; ++i) {
        Biquad high[DESIGN_BUTTERWORTH_MAX], low[DESIGN_BUTTERWORTH_MAX];
        const uint32_t n = design_butterworth_high_pass(row[i].order, 48, 48000, high);
        assert_int_equal(design_butterworth_low_pass(row[i].order, 48, 48000, low), n);
        double worst = 0.0;
        for (int p = 0; p < 4; ++p) {
            worst = fmax(worst, fabs(cascade_db(high, n, 12 << p, 48000) - row[i].db[p]));
            worst = fmax(worst, fabs(cascade_db(low, n, 192 >> p, 48000) - row[i].db[p])); /* its mirror image */
        }
        char what[80];
        snprintf(what, sizeof what, "Butterworth order %u, four points: error", (unsigned)row[i].order);
        figure_at_most("Design", what, worst, 0.001, "dB", "Butterworth 1930, scipy");
    }
}

/* A section's Q is 1/k of its state-variable form, at frequencies far below the rate. */
/* Of a pair of poles z: with s = (z - 1) / (z + 1), of which the sum and the product follow from a1 and a2. */
static double q_of(const Biquad *b)
{
    const double at_nyquist = 1.0 - b->a1 + b->a2, at_dc = 1.0 + b->a1 + b->a2;
    return sqrt(at_dc * at_nyquist) / (2.0 * (1.0 - b->a2));
}

static void the_sections_have_the_published_q(void **state)
{
    (void)state;
    static const struct {
        uint32_t order;
        double q[3]; /* of the second-order sections, in any order */
    } row[] = {
        {2, {0.70710678}},
        {3, {1.0}},
        {4, {0.54119610, 1.30656296}},
        {6, {0.51763809, 0.70710678, 1.93185165}},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; ++i) {
        Biquad section[DESIGN_BUTTERWORTH_MAX];
        const uint32_t n = design_butterworth_high_pass(row[i].order, 10, 96000, section);
        const uint32_t first = row[i].order % 2;
        assert_int_equal(n, (row[i].order + 1) / 2);
        for (uint32_t p = 0; p < row[i].order / 2; ++p) {
            double nearest = INFINITY;
            for (uint32_t k = first; k < n; ++k)
                nearest = fmin(nearest, fabs(q_of(&section[k]) - row[i].q[p]));
            assert_true(nearest < 1e-5);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_curve_passes_through_the_published_points),
        cmocka_unit_test(the_sections_have_the_published_q),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
