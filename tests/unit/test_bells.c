/* Bells in a curve: as the plain reference in double has it; found where they were put; none in a curve as expected. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "analog.h"
#include "bells.h"
#include "figure.h"
#include "plain_finder.h"

static BellSearch search;

static Bells look(const FixedCurve *c, uint32_t wanted)
{
    bells_init(&search);
    bells_start(&search, c, wanted);
    while (!bells_step(&search)) {
    }
    return search.found;
}

/* As expected of a recording, `heard` harmonics in each bin. */
static FixedCurve expected_curve(double misfit, double heard)
{
    const Recordings r = recordings_like(misfit);
    FixedCurve c = {.misfit = misfit};
    for (uint32_t b = 0; b < CURVE_BINS; ++b) {
        c.level[b] = recordings_mean(&r, b);
        c.weight[b] = heard;
    }
    return c;
}

static void add_bell(FixedCurve *c, double hz, double db, double q)
{
    for (uint32_t b = 0; b < CURVE_BINS; ++b)
        c->level[b] += analog_bell(curve_hz(b), hz, db, q);
}

static void it_is_what_the_plain_one_is(void **state)
{
    (void)state;
    double hz = 0, height = 0, odds = 0;
    for (int i = 0; i < 6; ++i) {
        FixedCurve c = expected_curve(1.5 + 0.5 * i, 5 + 40 * i);
        add_bell(&c, 250 + 100 * i, 7, 3);
        add_bell(&c, 1100, 4, 4);
        for (uint32_t b = 0; b < CURVE_BINS; b += 7)
            c.weight[b] = b % 2 ? 0 : 1;
        for (uint32_t b = 0; b < CURVE_BINS; ++b)
            c.level[b] += sin(1.7 * b * (i + 1));
        const Bells a = look(&c, BELLS_MOST), b = plain_bells(&c, BELLS_MOST);
        assert_int_equal(a.count, b.count);
        for (uint32_t k = 0; k < a.count; ++k) {
            hz = fmax(hz, fabs(12 * log2(a.at[k].hz / b.at[k].hz)));
            height = fmax(height, fabs(a.at[k].height - b.at[k].height));
            odds = fmax(odds, fabs(a.at[k].odds - b.at[k].odds));
            assert_true(fabs(a.at[k].q - b.at[k].q) < 1e-9);
        }
    }
    figure_at_most("Resonance", "bells, beside the plain ones in double: place", hz, 4e-6, "semitones", "our own");
    figure_at_most("Resonance", "bells, beside the plain ones: height", height, 4e-6, "dB", "our own");
    figure_at_most("Resonance", "bells, beside the plain ones: odds", odds, 2e-5, "nepers", "our own");
}

/* What the steps say that they take: callers count on it (work.h). A second bell is not looked for near the first. */
static void the_work_is_told(void **state)
{
    FixedCurve c = expected_curve(2.0, 60.0);
    double cost = 0.0, prior = 0.0, factor = 0.0, closed = 0.0;
    (void)state;
    for (uint32_t row = 0; row < CURVE_BINS; ++row) {
        prior += 0.2 + 0.42 * row;
        factor += 0.2 + 0.0035 * row * row;
    }
    add_bell(&c, 400.0, 8.0, 3.0);
    bells_init(&search);
    bells_start(&search, &c, 2);
    for (bool done = false; !done; cost += search.cost)
        done = bells_step(&search);
    for (uint32_t p = 0; p < BELLS_PLACES; ++p)
        closed += search.closed[p];
    const double tries = BELLS_WIDTHS * (5.0 * (2.0 * BELLS_PLACES - closed) + 0.5 * closed);
    assert_true(closed > 0.0 && fabs(cost - (prior + 2.0 * (factor + 20.0) + tries + 8.0)) < 1e-6);
}

static void a_bell_is_found_where_it_is(void **state)
{
    (void)state;
    double place = 0, height = 0, odds = INFINITY;
    for (double hz = 220; hz < 1200; hz *= 1.3) {
        FixedCurve c = expected_curve(4, 60);
        add_bell(&c, hz, 7, 2.83);
        const Bells found = look(&c, 1);
        assert_int_equal(found.count, 1);
        place = fmax(place, fabs(log2(found.at[0].hz / hz)));
        height = fmax(height, fabs(found.at[0].height - 7));
        odds = fmin(odds, found.at[0].odds);
    }
    figure_at_most("Resonance", "a bell of 7 dB in the curve expected: off by", place, 1.0 / 48, "octaves", "our own");
    figure_at_most("Resonance", "and its height by", height, 1.5, "dB", "our own");
    figure_at_least("Resonance", "and its odds", odds, 0.5, "nepers", "our own");
}

static void a_curve_as_expected_has_none(void **state)
{
    (void)state;
    for (double misfit = 1; misfit < 7; misfit += 1) {
        const FixedCurve c = expected_curve(misfit, 60);
        const Bells found = look(&c, BELLS_MOST);
        for (uint32_t i = 0; i < found.count; ++i)
            assert_true(found.at[i].odds < -0.5);
    }
}

/* Level, tilt and bend of the curve say nothing. */
static void level_and_tilt_do_not_matter(void **state)
{
    (void)state;
    FixedCurve c = expected_curve(4, 60), tilted;
    add_bell(&c, 500, 6, 3);
    tilted = c;
    for (uint32_t b = 0; b < CURVE_BINS; ++b)
        tilted.level[b] += 20 + 3 * log2(curve_hz(b) / 500);
    const Bells a = look(&c, 1), b = look(&tilted, 1);
    assert_true(fabs(log2(a.at[0].hz / b.at[0].hz)) < 1.0 / 24);
    assert_true(fabs(a.at[0].height - b.at[0].height) < 0.3);
}

static void too_little_heard_gives_none(void **state)
{
    (void)state;
    FixedCurve c = expected_curve(4, 0.5);
    add_bell(&c, 500, 9, 3);
    assert_int_equal(look(&c, 3).count, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_is_what_the_plain_one_is),
        cmocka_unit_test(a_bell_is_found_where_it_is),
        cmocka_unit_test(the_work_is_told),
        cmocka_unit_test(a_curve_as_expected_has_none),
        cmocka_unit_test(level_and_tilt_do_not_matter),
        cmocka_unit_test(too_little_heard_gives_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
