/* The designs beside a published method with the same aim: M. Vicanek, "Matched Second Order Digital Filters" (2016)
 * and "Matched Two-Pole Digital Shelving Filters" (2024). The library follows the analog curve another way (design.c);
 * here the 2016 bell is built as published, checked against known coefficients, and its error against the analog curve
 * is the one to beat. Of the 2024 shelf only the coefficients of one setting are at hand. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "analog.h"
#include "design.h"
#include "figure.h"

/* Poles by impulse invariance, zeros so that the gain is right at 0 Hz and at f0, and f0 is the peak; for boosts. */
static Biquad vicanek_bell(double hz, double db, double q, double rate)
{
    const double w0 = 2.0 * DSP_PI * hz / rate, gain2 = pow(10.0, db / 10.0);
    const double damping = 1.0 / (2.0 * q * pow(10.0, db / 40.0)), decay = exp(-damping * w0);
    const double turn =
        damping < 1.0 ? cos(sqrt(1.0 - damping * damping) * w0) : cosh(sqrt(damping * damping - 1.0) * w0);
    const double a1 = -2.0 * decay * turn, a2 = decay * decay;
    const double p1 = sin(w0 / 2) * sin(w0 / 2), p0 = 1.0 - p1, p2 = 4.0 * p0 * p1;
    const double A0 = (1 + a1 + a2) * (1 + a1 + a2), A1 = (1 - a1 + a2) * (1 - a1 + a2), A2 = -4.0 * a2;
    const double R1 = (A0 * p0 + A1 * p1 + A2 * p2) * gain2;
    const double R2 = (-A0 + A1 + 4.0 * (p0 - p1) * A2) * gain2;
    const double B0 = A0, B2 = (R1 - R2 * p1 - B0) / (4.0 * p1 * p1), B1 = R2 + B0 - 4.0 * (p0 - p1) * B2;
    const double W = 0.5 * (sqrt(B0) + sqrt(B1)), b0 = 0.5 * (W + sqrt(W * W + B2));
    return (Biquad){.b0 = b0, .b1 = 0.5 * (sqrt(B0) - sqrt(B1)), .b2 = -B2 / (4.0 * b0), .a1 = a1, .a2 = a2};
}

/* 44.1 kHz, 12 kHz, +6 dB, computed from the published formulas with scipy: bell of Q 1, shelf of S 1. */
static const Biquad bell_vector = {1.46675643934, -0.254622003254, 0.116759287855, 0.030810390955, 0.298083332987};
static const Biquad shelf_vector = {1.34080935447, -0.548727455102, 0.146498343592, -0.0720067304622, 0.0105869734255};

static void the_published_bell_is_built_right(void **state)
{
    (void)state;
    const Biquad b = vicanek_bell(12000, 6, 1, 44100);
    assert_true(fabs(b.b0 - bell_vector.b0) < 1e-11 && fabs(b.b1 - bell_vector.b1) < 1e-11);
    assert_true(fabs(b.b2 - bell_vector.b2) < 1e-11);
    assert_true(fabs(b.a1 - bell_vector.a1) < 1e-11 && fabs(b.a2 - bell_vector.a2) < 1e-11);
}

/* Largest error against the analog curve, 20 Hz to `top`. q 0: a shelf. */
static double error(const Biquad *b, double f0, double db, double q, double top)
{
    double worst = 0.0;
    for (int i = 0; i < 400; ++i) {
        const double hz = analog_grid(i, 400, 20.0, top);
        const double wanted = q > 0.0 ? analog_bell(hz, f0, db, q) : analog_high_shelf(hz, f0, db);
        worst = fmax(worst, fabs(20.0 * log10(biquad_gain(b, hz, 44100)) - wanted));
    }
    return worst;
}

/* 0.56 and 0.113 dB are the published method's errors to 20 kHz, computed with scipy. */
static void the_known_errors_are_reproduced(void **state)
{
    (void)state;
    figure_within("Design", "published bell, 12 kHz +6 dB Q 1, to 20 kHz: error",
                  error(&bell_vector, 12000, 6, 1, 20000), 0.56, 0.01, "dB", "Vicanek 2016, scipy");
    figure_within("Design", "published shelf, 12 kHz +6 dB, to 20 kHz: error", error(&shelf_vector, 12000, 6, 0, 20000),
                  0.113, 0.001, "dB", "Vicanek 2024, scipy");
}

static void ours_errs_no_more_where_it_matters(void **state)
{
    (void)state;
    const Biquad bell = design_bell(12000, 6, 1, 44100), shelf = design_high_shelf(12000, 6, 44100);
    figure_at_most("Design", "our bell, 12 kHz +6 dB Q 1, to 20 kHz: error", error(&bell, 12000, 6, 1, 20000), 0.56,
                   "dB", "Vicanek 2016, scipy");
    figure_at_most("Design", "our shelf, 12 kHz +6 dB, to 18 kHz: error", error(&shelf, 12000, 6, 0, 18000),
                   error(&shelf_vector, 12000, 6, 0, 18000), "dB", "Vicanek 2024, scipy");
    /* Above 18 kHz it is the published shelf that is nearer. */
    figure_note("Design", "our shelf, 12 kHz +6 dB, to 20 kHz: error", error(&shelf, 12000, 6, 0, 20000), "dB");
    double ours = 0.0, published = 0.0; /* over Tone's dips */
    for (double f0 = 100; f0 <= 4000; f0 *= 1.2)
        for (double q = 0.404; q <= 7.3; q *= 1.5) {
            const Biquad a = design_bell(f0, 6, q, 44100), b = vicanek_bell(f0, 6, q, 44100);
            ours = fmax(ours, error(&a, f0, 6, q, 18000));
            published = fmax(published, error(&b, f0, 6, q, 18000));
        }
    figure_at_most("Design", "our bells of 6 dB up to 4 kHz, to 18 kHz: error", ours, published, "dB", "Vicanek 2016");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_published_bell_is_built_right),
        cmocka_unit_test(the_known_errors_are_reproduced),
        cmocka_unit_test(ours_errs_no_more_where_it_matters),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
