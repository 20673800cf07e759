/* The W3C "Audio EQ Cookbook" (Note, 2021): what its prototypes are said to do, and its own digital filters, made with
 * the bilinear transform, where those must agree with ours: far below the rate. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "design.h"
#include "figure.h"

static double gain_db(const Biquad *b, double hz, double rate)
{
    return 20.0 * log10(biquad_gain(b, hz, rate));
}

/* The Note's formulas. */
typedef struct {
    double cosine, alpha, a;
} Terms;

static Terms terms(double hz, double db, double q, double rate)
{
    const double w = 2.0 * DSP_PI * hz / rate;
    return (Terms){.cosine = cos(w), .alpha = sin(w) / (2.0 * q), .a = pow(10.0, db / 40.0)};
}

static Biquad cookbook_bell(double hz, double db, double q, double rate)
{
    const Terms t = terms(hz, db, q, rate);
    const double a0 = 1.0 + t.alpha / t.a, middle = -2.0 * t.cosine / a0;
    return (Biquad){(1.0 + t.alpha * t.a) / a0, middle, (1.0 - t.alpha * t.a) / a0, middle, (1.0 - t.alpha / t.a) / a0};
}

static Biquad cookbook_high_shelf(double hz, double db, double rate)
{
    const Terms t = terms(hz, db, 0.70710678118654752, rate);
    const double a = t.a, c = t.cosine, r = 2.0 * sqrt(a) * t.alpha, a0 = (a + 1) - (a - 1) * c + r;
    return (Biquad){a * ((a + 1) + (a - 1) * c + r) / a0, -2.0 * a * ((a - 1) + (a + 1) * c) / a0,
                    a * ((a + 1) + (a - 1) * c - r) / a0, 2.0 * ((a - 1) - (a + 1) * c) / a0,
                    ((a + 1) - (a - 1) * c - r) / a0};
}

static Biquad cookbook_high_pass(double hz, double q, double rate)
{
    const Terms t = terms(hz, 0, q, rate);
    const double a0 = 1.0 + t.alpha, b = (1.0 + t.cosine) / 2.0 / a0;
    return (Biquad){b, -2.0 * b, b, -2.0 * t.cosine / a0, (1.0 - t.alpha) / a0};
}

static double difference(Biquad a, Biquad b)
{
    return fabs(a.b0 - b.b0) + fabs(a.b1 - b.b1) + fabs(a.b2 - b.b2) + fabs(a.a1 - b.a1) + fabs(a.a2 - b.a2);
}

/* Coefficients at 48 kHz computed from the Note's prototypes with scipy (scipy.signal.bilinear, frequency prewarped).
 */
static void the_note_is_copied_right(void **state)
{
    (void)state;
    const Biquad bell = {0.9391699420300311, -1.569775469766701, 0.7599427826557745, -1.569775469766701,
                         0.6991127246858054};
    const Biquad shelf = {1.571670188571297, -1.248879926746538, 0.4486917330761507, -0.4335101415770912,
                          0.2049921364780009};
    const Biquad high_pass = {0.9926225427561189, -1.985245085512238, 0.9926225427561189, -1.985190657896261,
                              0.9852995131282146};
    assert_true(difference(cookbook_bell(3000, -4.5, 1.4, 48000), bell) < 1e-12);
    assert_true(difference(cookbook_high_shelf(8000, 6, 48000), shelf) < 1e-12);
    assert_true(difference(cookbook_high_pass(80, 0.70710678118654752, 48000), high_pass) < 1e-12);
}

static void q_and_octaves_are_the_note_s(void **state)
{
    (void)state;
    static const struct {
        double octaves, q; /* 1/Q = 2 sinh(ln 2 / 2 BW), computed with scipy */
    } row[] = {{1, 1.414214}, {1.0 / 3, 4.318473}, {2, 0.666667}};
    for (size_t i = 0; i < sizeof row / sizeof *row; ++i)
        assert_true(fabs(design_q(row[i].octaves) - row[i].q) < 1e-6);
}

/* The bandwidth lies between the points of half the gain in dB; a shelf has half its dB at its frequency. */
static void half_gain_lies_where_the_note_says(void **state)
{
    (void)state;
    double worst = 0.0;
    for (double octaves = 0.2; octaves <= 3; octaves += 0.4)
        for (double db = -12; db <= -3; db += 3)
            for (double f0 = 100; f0 <= 1000; f0 *= 1.4) {
                const Biquad b = design_bell(f0, db, design_q(octaves), 48000);
                const double edge = exp2(octaves / 2.0);
                worst = fmax(worst, fabs(gain_db(&b, f0, 48000) - db));
                worst = fmax(worst, fabs(gain_db(&b, f0 / edge, 48000) - db / 2));
                worst = fmax(worst, fabs(gain_db(&b, f0 * edge, 48000) - db / 2));
            }
    for (double f0 = 6000; f0 <= 14000; f0 += 1000) {
        const Biquad b = design_high_shelf(f0, 6, 48000);
        worst = fmax(worst, fabs(gain_db(&b, f0, 48000) - 3.0));
    }
    figure_at_most("Design", "depth, half-depth points and middle of the shelf: error", worst, 0.01, "dB",
                   "W3C Audio EQ Cookbook");
}

enum { OCTAVES = 10 }; /* 31.25 Hz to 16 kHz */

/* At 48 kHz, with A, Q, r as in the Note and K = 1/tan(pi f0/fs), computed with scipy 1.10:
 *     analog    20 log10 |scipy.signal.freqs(b, a, worN=f/f0)|
 *     bilinear  20 log10 |scipy.signal.freqz(*scipy.signal.bilinear(b, a, fs=K/2), worN=f, fs=48000)| */
static void octave_by_octave_as_scipy_computes_it(void **state)
{
    (void)state;
    const struct {
        const char *name;
        Biquad ours, cookbook;
        double analog[OCTAVES], bilinear[OCTAVES];
        int agree;   /* octaves over which the two kinds agree within 0.001 dB */
        double most; /* dB off the analog curve */
    } row[] = {
        {"bell 250 Hz, -4 dB, 1 octave",
         design_bell(250, -4, design_q(1), 48000),
         cookbook_bell(250, -4, design_q(1), 48000),
         {-0.033106, -0.141733, -0.740546, -4.000000, -0.740546, -0.141733, -0.033106, -0.008137, -0.002026, -0.000506},
         {-0.033100, -0.141707, -0.740412, -4.000000, -0.740013, -0.141319, -0.032726, -0.007768, -0.001666, -0.000185},
         OCTAVES,
         0.0005},
        {"high-pass 80 Hz, Butterworth",
         design_high_pass(80, 0.70710678118654752, 48000),
         cookbook_high_pass(80, 0.70710678118654752, 48000),
         {-16.429556, -5.663614, -0.673581, -0.045302, -0.002845, -0.000178, -0.000011, -0.000001, 0, 0},
         {-16.429688, -5.663659, -0.673548, -0.045288, -0.002841, -0.000177, -0.000011, -0.000001, 0, 0},
         OCTAVES,
         1e-5},
        {"high shelf 12 kHz, 3 dB",
         design_high_shelf(12000, 3, 48000),
         cookbook_high_shelf(12000, 3, 48000),
         {0, 0, 0, 0.000001, 0.000009, 0.000148, 0.002359, 0.037290, 0.500329, 2.273316},
         {0, 0, 0, 0, 0.000004, 0.000056, 0.000919, 0.015688, 0.304292, 2.695708},
         6,
         0.05},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; ++i) {
        double from_analog = 0.0, kinds_apart = 0.0;
        for (int o = 0; o < OCTAVES; ++o) {
            const double hz = ldexp(31.25, o), ours = gain_db(&row[i].ours, hz, 48000);
            assert_true(fabs(gain_db(&row[i].cookbook, hz, 48000) - row[i].bilinear[o]) < 2e-6);
            from_analog = fmax(from_analog, fabs(ours - row[i].analog[o]));
            if (o < row[i].agree)
                kinds_apart = fmax(kinds_apart, fabs(ours - row[i].bilinear[o]));
        }
        char what[80];
        snprintf(what, sizeof what, "%s, by octaves: off the analog curve", row[i].name);
        figure_at_most("Design", what, from_analog, row[i].most, "dB", "scipy.signal.freqs");
        snprintf(what, sizeof what, "%s: off the bilinear", row[i].name);
        figure_at_most("Design", what, kinds_apart, 0.001, "dB", "scipy.signal.freqz");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_note_is_copied_right),
        cmocka_unit_test(q_and_octaves_are_the_note_s),
        cmocka_unit_test(half_gain_lies_where_the_note_says),
        cmocka_unit_test(octave_by_octave_as_scipy_computes_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
