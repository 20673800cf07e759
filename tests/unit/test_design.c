/* The designed sections against the analog curves they stand for. */
#include <complex.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "analog.h"
#include "design.h"
#include "figure.h"

enum { POINTS = 150 };

static const double rates[] = {44100, 48000, 96000};
static const double dip_hz[] = {100, 150, 250, 400, 630, 800, 1000, 1500, 2000, 2500, 3000, 3500, 4000};
static const double dip_octaves[] = {0.2, 0.35, 0.6, 1, 1.5, 2, 2.5, 3};
static const double air_hz[] = {6000, 7000, 8000, 9000, 10000, 11000, 12000, 13000, 14000, 15000, 16000};
static const double cut_hz[] = {20, 30, 50, 80, 100, 150, 200, 300};

/* NOLINTNEXTLINE(bugprone-macro-parentheses): a name to declare stands in no parentheses */
#define EACH(i, table) for (size_t i = 0; i < sizeof(table) / sizeof *(table); ++i)

static double gain_db(const Biquad *b, double hz, double rate)
{
    return 20.0 * log10(biquad_gain(b, hz, rate));
}

static double bell_error(double f0, double db, double octaves, double rate, double top)
{
    const double q = design_q(octaves);
    const Biquad b = design_bell(f0, db, q, rate);
    double worst = 0.0;
    for (int i = 0; i < POINTS; ++i) {
        const double hz = analog_grid(i, POINTS, 20.0, top);
        worst = fmax(worst, fabs(gain_db(&b, hz, rate) - analog_bell(hz, f0, db, q)));
    }
    return worst;
}

static double shelf_error(double f0, double db, double rate, double top)
{
    const Biquad b = design_high_shelf(f0, db, rate);
    double worst = 0.0;
    for (int i = 0; i < POINTS; ++i) {
        const double hz = analog_grid(i, POINTS, 20.0, top);
        worst = fmax(worst, fabs(gain_db(&b, hz, rate) - analog_high_shelf(hz, f0, db)));
    }
    return worst;
}

static double worst_bell(const double *db, size_t moves, double rate, double top)
{
    double worst = 0.0;
    for (size_t m = 0; m < moves; ++m)
        EACH (f, dip_hz)
            EACH (w, dip_octaves)
                worst = fmax(worst, bell_error(dip_hz[f], db[m], dip_octaves[w], rate, top));
    return worst;
}

static double worst_shelf(const double *db, size_t moves, double rate, double top)
{
    double worst = 0.0;
    for (size_t m = 0; m < moves; ++m)
        EACH (f, air_hz)
            worst = fmax(worst, shelf_error(air_hz[f], db[m], rate, top));
    return worst;
}

static void dips_follow_the_analog_curve(void **state)
{
    (void)state;
    static const double small[] = {-0.5, -1.5, -3, -6, 6}, large[] = {-9, -12, 12};
    EACH (r, rates) {
        char what[80];
        snprintf(what, sizeof what, "dip, moves up to 6 dB, %.0f Hz, to 18 kHz: error", rates[r]);
        figure_at_most("Tone", what, worst_bell(small, 5, rates[r], 18000), 0.25, "dB", "requirement");
        snprintf(what, sizeof what, "dip, moves up to 12 dB, %.0f Hz, to 18 kHz: error", rates[r]);
        figure_at_most("Tone", what, worst_bell(large, 3, rates[r], 18000), 0.5, "dB", "requirement");
    }
}

static void air_follows_the_analog_curve(void **state)
{
    (void)state;
    static const double small[] = {0.5, 1.5, 3, 6, -6}, large[] = {7.5, 9};
    EACH (r, rates) {
        char what[80];
        snprintf(what, sizeof what, "air, lifts up to 6 dB, %.0f Hz, to 18 kHz: error", rates[r]);
        figure_at_most("Tone", what, worst_shelf(small, 5, rates[r], 18000), 0.25, "dB", "requirement");
        snprintf(what, sizeof what, "air, lifts up to 9 dB, %.0f Hz, to 18 kHz: error", rates[r]);
        figure_at_most("Tone", what, worst_shelf(large, 2, rates[r], 18000), 0.5, "dB", "requirement");
    }
}

/* What design.h promises, which is narrower. */
static void bells_and_shelves_keep_the_header_s_word(void **state)
{
    (void)state;
    static const double small[] = {-0.5, -3, -6}, large[] = {-12}, lift[] = {6}, most[] = {9};
    EACH (r, rates) {
        assert_true(worst_bell(small, 3, rates[r], 18000) <= 0.1);
        assert_true(worst_bell(large, 1, rates[r], 18000) <= 0.2);
        assert_true(worst_shelf(lift, 1, rates[r], 18000) <= 0.1);
        assert_true(worst_shelf(most, 1, rates[r], 18000) <= 0.2);
        for (double f0 = 4000; f0 < 0.36 * rates[r]; f0 += 500)
            assert_true(bell_error(f0, 6, 1.388, rates[r], 18000) <= 0.4);
    }
}

static void low_cuts_follow_the_analog_curve(void **state)
{
    (void)state;
    EACH (r, rates) {
        double worst = 0.0, worst_deep = 0.0;
        EACH (f, cut_hz)
            for (uint32_t order = 2; order <= 4; ++order) {
                Biquad section[DESIGN_BUTTERWORTH_MAX];
                const uint32_t n = design_butterworth_high_pass(order, cut_hz[f], rates[r], section);
                assert_int_equal(n, (order + 1) / 2);
                for (int i = 0; i < POINTS; ++i) {
                    const double hz = analog_grid(i, POINTS, 20.0, 18000.0);
                    const double wanted = analog_butterworth_high_pass(hz, cut_hz[f], (int)order);
                    double got = 0.0;
                    for (uint32_t k = 0; k < n; ++k)
                        got += gain_db(&section[k], hz, rates[r]);
                    double *const to = wanted < -60.0 ? &worst_deep : &worst;
                    *to = fmax(*to, fabs(got - wanted));
                }
            }
        char what[80];
        snprintf(what, sizeof what, "low cut, 12 to 24 dB per octave, %.0f Hz, to 18 kHz: error", rates[r]);
        figure_at_most("Tone", what, worst, 1e-5, "dB", "ours; required: 0.25");
        snprintf(what, sizeof what, "low cut where it is under -60 dB, %.0f Hz: error", rates[r]);
        figure_at_most("Tone", what, worst_deep, 1e-5, "dB", "ours; required: 1");
    }
}

typedef Biquad Second(double hz, double q, double rate);
typedef double Curve(double hz, double f0, double q);

static void other_filters_keep_the_header_s_word(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        Second *design;
        Curve *analog;
        double to; /* highest f0, as a share of the rate */
        double within;
    } row[] = {
        {"high-pass to 300 Hz", design_high_pass, analog_high_pass, 300.0 / 44100.0, 0.001},
        {"high-pass to 0.25 rate", design_high_pass, analog_high_pass, 0.25, 1.0},
        {"low-pass to 0.25 rate", design_low_pass, analog_low_pass, 0.25, 0.5},
        {"band-pass to 0.25 rate", design_band_pass, analog_band_pass, 0.25, 0.3},
    };
    static const double qs[] = {0.5, 0.70710678, 1.30656296, 2, 4};
    const double rate = 44100;
    EACH (i, row) {
        double worst = 0.0;
        for (int f = 0; f < 12; ++f)
            EACH (k, qs) {
                const double f0 = analog_grid(f, 12, 20.0, row[i].to * rate);
                const Biquad b = row[i].design(f0, qs[k], rate);
                for (int p = 0; p < POINTS; ++p) {
                    const double hz = analog_grid(p, POINTS, 20.0, 18000.0);
                    const double wanted = row[i].analog(hz, f0, qs[k]);
                    if (wanted > -60.0)
                        worst = fmax(worst, fabs(gain_db(&b, hz, rate) - wanted));
                }
            }
        figure_at_most("Design", row[i].name, worst, row[i].within, "dB", "design.h");
    }
}

static void first_orders_follow_the_analog_curve(void **state)
{
    (void)state;
    for (int i = 0; i < POINTS; ++i) {
        const double hz = analog_grid(i, POINTS, 20.0, 18000.0);
        for (double f0 = 20; f0 < 8000; f0 *= 1.7) {
            const Biquad high = design_high_pass_1(f0, 44100), low = design_low_pass_1(f0, 44100);
            assert_true(fabs(gain_db(&high, hz, 44100) - analog_butterworth_high_pass(hz, f0, 1)) < 0.3);
            assert_true(fabs(gain_db(&low, hz, 44100) - analog_butterworth_low_pass(hz, f0, 1)) < 0.3);
        }
    }
}

/* Low rates: what of the analog curve lies below 0.45 rate, for bands in the band, at its edge and far above it. */
static void bands_above_the_band_keep_their_skirts(void **state)
{
    (void)state;
    static const struct {
        double rate, shelf, bell; /* Hz, dB, dB, for moves of 6 dB */
    } row[] = {{8000, 0.3, 0.5}, {11025, 0.3, 0.45}, {16000, 0.3, 0.3}, {22050, 0.3, 0.25}, {32000, 0.3, 0.2}};
    EACH (r, row) {
        const double top = 0.45 * row[r].rate, six[] = {-6};
        char what[80];
        snprintf(what, sizeof what, "air of 6 dB at %.0f Hz, to 0.45 rate: error", row[r].rate);
        figure_at_most("Design", what, worst_shelf(six, 1, row[r].rate, top), row[r].shelf, "dB", "design.c");
        snprintf(what, sizeof what, "dip of 6 dB at %.0f Hz, to 0.45 rate: error", row[r].rate);
        figure_at_most("Design", what, worst_bell(six, 1, row[r].rate, top), row[r].bell, "dB", "design.c");
    }
    /* A lift that begins above the band has its skirt there: not nothing, and not all of the lift. */
    assert_true(shelf_error(12000, 6, 16000, 7200) < 0.25);
    const Biquad air = design_high_shelf(12000, 6, 16000);
    assert_true(gain_db(&air, 7200, 16000) > 0.5 && gain_db(&air, 7200, 16000) < 2.0);
}

static void nothing_to_do_is_exactly_nothing(void **state)
{
    (void)state;
    EACH (f, dip_hz) {
        const Biquad b[] = {design_bell(dip_hz[f], 0, 1, 44100), design_bell(dip_hz[f], -0.0, 0.4, 8000),
                            design_high_shelf(4 * dip_hz[f], 0, 44100)};
        EACH (i, b) {
            assert_true(b[i].b0 == 1.0 && b[i].b1 == b[i].a1 && b[i].b2 == b[i].a2);
            const Svf s = svf_from_biquad(&b[i]);
            assert_true(svf_is_flat(&s));
        }
    }
}

static void a_cut_undoes_its_boost(void **state)
{
    (void)state;
    EACH (f, dip_hz)
        for (int i = 0; i < POINTS; ++i) {
            const double hz = analog_grid(i, POINTS, 20.0, 22000.0), f0 = dip_hz[f];
            const Biquad up = design_bell(f0, 7, 0.6, 44100), down = design_bell(f0, -7, 0.6, 44100);
            const Biquad lift = design_high_shelf(4 * f0, 7, 44100), drop = design_high_shelf(4 * f0, -7, 44100);
            assert_true(fabs(biquad_gain(&up, hz, 44100) * biquad_gain(&down, hz, 44100) - 1.0) < 1e-9);
            assert_true(fabs(biquad_gain(&lift, hz, 44100) * biquad_gain(&drop, hz, 44100) - 1.0) < 1e-9);
        }
}

static bool all_finite(const Biquad *b)
{
    return isfinite(b->b0) && isfinite(b->b1) && isfinite(b->b2) && isfinite(b->a1) && isfinite(b->a2);
}

static bool inside(double c1, double c2, double limit)
{
    return fabs(c2) <= limit && fabs(c1) <= 1.0 + c2 + (limit - 1.0);
}

/* Poles inside the unit circle, zeros inside or on it. */
static void check_section(Biquad b)
{
    assert_true(all_finite(&b));
    assert_true(fabs(b.a2) < 1.0 && fabs(b.a1) < 1.0 + b.a2);
    assert_true(inside(b.b1 / b.b0, b.b2 / b.b0, 1.0 + 1e-7));
    const Svf s = svf_from_biquad(&b);
    assert_true(isfinite(s.direct) && isfinite(s.by_first) && isfinite(s.by_second));
    assert_true(fabs(s.keep) <= 1.0 && s.lift > 0 && s.lift <= 1.0 && s.rise > 0 && s.rise < 2.0);
}

/* Also at the very frequencies where the design changes its points. */
static void every_section_is_stable_with_its_zeros_inside(void **state)
{
    (void)state;
    static const double all_rates[] = {8000, 11025, 22050, 44100, 96000, 192000, 384000};
    static const double shares[] = {1e-5, 0.001, 0.05, 0.2,  0.25, 0.3,  0.35, 0.36, 0.37, 0.39,
                                    0.4,  0.405, 0.42, 0.43, 0.45, 0.47, 0.5,  0.7,  1,    2.5};
    static const double qs[] = {0.2, 0.404, 0.70710678, 2, 7.2, 40};
    EACH (r, all_rates)
        EACH (f, shares) {
            const double hz = shares[f] * all_rates[r], rate = all_rates[r];
            check_section(design_high_pass_1(hz, rate));
            check_section(design_low_pass_1(hz, rate));
            for (int db = -24; db <= 24; db += 6) {
                check_section(design_high_shelf(hz, db, rate));
                EACH (i, qs)
                    check_section(design_bell(hz, db, qs[i], rate));
            }
            EACH (i, qs) {
                check_section(design_high_pass(hz, qs[i], rate));
                check_section(design_low_pass(hz, qs[i], rate));
                check_section(design_band_pass(hz, qs[i], rate));
            }
        }
}

/* |H| of the section as it runs: its equations (svf.h) for s1 and s2 that turn by z each sample, under an input of 1.
 */
static double svf_gain_db(const Svf *c, double hz, double rate)
{
    const double half = DSP_PI * hz / rate;
    const double complex turned = 2.0 * I * sin(half) * cexp(I * half); /* z - 1, exact near 0 Hz */
    const double complex own = turned + (1.0 - c->keep), other = turned + c->rise;
    const double complex first = (c->lift * other - c->lift * c->rise) / (own * other + c->lift * c->lift);
    const double complex second = (c->lift * first + c->rise) / other;
    return 20.0 * log10(cabs(c->direct + c->by_first * first + c->by_second * second));
}

static void low_frequencies_survive_the_highest_rate(void **state)
{
    (void)state;
    double worst = 0.0, worst_deep = 0.0;
    const Biquad cut = design_high_pass(20, 0.70710678118654752, 384000), dip = design_bell(100, -12, 7.2, 384000);
    const Svf cut_runs = svf_from_biquad(&cut), dip_runs = svf_from_biquad(&dip);
    for (int i = 0; i < POINTS; ++i) {
        const double hz = analog_grid(i, POINTS, 5.0, 20000.0), deep = analog_grid(i, POINTS, 0.1, 5.0);
        worst = fmax(worst, fabs(svf_gain_db(&cut_runs, hz, 384000) - analog_high_pass(hz, 20, 0.70710678118654752)));
        worst = fmax(worst, fabs(svf_gain_db(&dip_runs, hz, 384000) - analog_bell(hz, 100, -12, 7.2)));
        worst_deep = fmax(worst_deep,
                          fabs(svf_gain_db(&cut_runs, deep, 384000) - analog_high_pass(deep, 20, 0.70710678118654752)));
    }
    figure_at_most("Design", "20 and 100 Hz at 384 kHz, as the section runs: error", worst, 1e-5, "dB", "design.h");
    figure_at_most("Design", "20 Hz low cut at 384 kHz, down to 0.1 Hz (-92 dB): error", worst_deep, 1e-5, "dB",
                   "design.h");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(dips_follow_the_analog_curve),
        cmocka_unit_test(air_follows_the_analog_curve),
        cmocka_unit_test(bells_and_shelves_keep_the_header_s_word),
        cmocka_unit_test(low_cuts_follow_the_analog_curve),
        cmocka_unit_test(other_filters_keep_the_header_s_word),
        cmocka_unit_test(first_orders_follow_the_analog_curve),
        cmocka_unit_test(bands_above_the_band_keep_their_skirts),
        cmocka_unit_test(nothing_to_do_is_exactly_nothing),
        cmocka_unit_test(a_cut_undoes_its_boost),
        cmocka_unit_test(every_section_is_stable_with_its_zeros_inside),
        cmocka_unit_test(low_frequencies_survive_the_highest_rate),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
