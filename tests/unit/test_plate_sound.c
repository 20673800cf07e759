/* How the plate's ambience falls and spreads, at every common rate and from either input alone: its levels follow a
 * straight line from 60 ms after the first arrival on, nothing sticks out before, left and right have little in common.
 * Decay, density and modes have their tests in tests/published. Limits: requirements. */
#include "ambience.h"
#include "figure.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

static const double rates[] = {44100, 48000, 88200, 96000, 176400, 192000};
enum { RATES = sizeof rates / sizeof *rates };

typedef double Figure(const Response *r, double decay, double damping);

enum { FIGURES = 2 };

/* The worst of all rates and inputs, for each figure. */
static void worst_of(Figure *const figure[], uint32_t figures, const double (*row)[2], size_t rows, double worst[])
{
    for (uint32_t f = 0; f < figures; ++f)
        worst[f] = 0.0;
    for (int k = 0; k < RATES; ++k)
        for (int input = 0; input < RESPONSE_INPUTS; ++input)
            for (size_t i = 0; i < rows; ++i) {
                Response r;
                response_take_from(&r, plate_tables_seed(rates[k]), (ResponseInput)input, rates[k], row[i][0],
                                   row[i][1], row[i][0]);
                for (uint32_t f = 0; f < figures; ++f)
                    worst[f] = fmax(worst[f], figure[f](&r, row[i][0], row[i][1]));
                response_free(&r);
            }
}

static const double undamped[][2] = {{0.5, 20000}, {1, 20000}, {2, 20000}, {4, 20000}, {8, 20000}};
static const double damped[][2] = {{0.5, 4000}, {0.5, 6500}, {1, 4000}, {1, 6500}, {2.2, 4000}, {2.2, 6500}};

static double off_the_fall(const Response *r, double decay, double damping)
{
    (void)damping;
    return ambience_levels_off(r, &(AmbienceLevels){0, 8000, 0.05, AMBIENCE_BEGUN, decay * 50.0 / 60.0, 1, false});
}

static double off_the_start(const Response *r, double decay, double damping)
{
    (void)decay, (void)damping;
    return ambience_levels_off(r, &(AmbienceLevels){0, 8000, 0.01, 0.0, 0.08, 2, true});
}

static double octave_off(const Response *r, double decay, double damping, double hz)
{
    const double damp = pow(hz / damping, 4.0), own = decay / (1.0 + 2.0 * damp / (1.0 + damp));
    return ambience_levels_off(r, &(AmbienceLevels){hz / sqrt(2.0), hz * sqrt(2.0), 0.02, AMBIENCE_BEGUN,
                                                    AMBIENCE_BEGUN + own * 40.0 / 60.0, 1, false});
}

static double octaves_off(const Response *r, double decay, double damping)
{
    return fmax(octave_off(r, decay, damping, 4000.0), octave_off(r, decay, damping, 8000.0));
}

static double alike(const Response *r, double decay, double damping)
{
    (void)decay, (void)damping;
    return ambience_correlation(r);
}

/* How it begins and how it falls is asked of the same responses. */
static double undamped_worst(uint32_t which)
{
    static Figure *const figure[FIGURES] = {off_the_fall, off_the_start};
    static double worst[FIGURES];
    if (worst[0] == 0.0)
        worst_of(figure, FIGURES, undamped, 5, worst);
    return worst[which];
}

static double worst_alone(Figure *figure, const double (*row)[2], size_t rows)
{
    double worst;
    worst_of(&figure, 1, row, rows, &worst);
    return worst;
}

static void falls_in_a_straight_line(void **state)
{
    (void)state;
    figure_at_most("Plate", "50 ms levels under 8 kHz off a straight line to -50 dB, 0.5-8 s, damping 20k",
                   undamped_worst(0), 1.5, "dB", "requirement");
    figure_at_most("Plate", "20 ms levels of the 4 and 8 kHz octaves off one to -40 dB, 0.5-2.2 s, damping 4k, 6.5k",
                   worst_alone(octaves_off, damped, 6), 2.5, "dB", "requirement");
}

static void nothing_sticks_out_of_the_start(void **state)
{
    (void)state;
    figure_at_most("Plate", "10 ms levels of the first 80 ms over a parabola, 0.5-8 s", undamped_worst(1), 4.0, "dB",
                   "requirement");
}

/* Shorter ambiences hold too little sound in a third of an octave to tell: noise as long as that reads as much. */
static void left_and_right_differ(void **state)
{
    (void)state;
    static const double row[][2] = {{1, 20000}, {2.2, 6500}, {4, 6500}, {8, 20000}};
    figure_at_most("Plate", "correlation of left and right in thirds of an octave from 315 Hz, 1-8 s",
                   worst_alone(alike, row, 4), 0.3, "", "requirement");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(falls_in_a_straight_line),
        cmocka_unit_test(nothing_sticks_out_of_the_start),
        cmocka_unit_test(left_and_right_differ),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
