/* The line through a fall: points that are drawn by hand. */
#include "fall_line.h"

#include "figure.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static double time_of(double decay, double from, uint32_t points)
{
    FallLine l = {0};
    for (uint32_t i = 0; i < points; ++i) /* a decibel each */
        fall_line_add(&l, decay / 60.0 * i, db_to_power(from - i));
    return fall_line_time(&l);
}

static void a_straight_fall_gives_its_time(void **state)
{
    (void)state;
    double worst = 0.0;
    for (double decay = 0.1; decay < 9.0; decay *= 1.5)
        for (double from = -80.0; from < 1.0; from += 20.0)
            worst = fmax(worst, fabs(time_of(decay, from, 30) / decay - 1.0));
    figure_at_most("Fall line", "drawn falls of 0.1 to 8 s: time off by", 100.0 * worst, 1e-6, "%",
                   "definition of T60; wide: rounding");
}

/* What lies evenly about a line leaves it as it is; a point 5 dB under its end makes it steeper: by 2 x 5 dB a second,
 * as the squares of the times about their middle add up to 0.1. */
static void it_is_the_line_of_least_squares(void **state)
{
    (void)state;
    FallLine l = {0};
    static const double off[] = {1.0, -1.0, -1.0, 1.0};
    for (int i = 0; i < 4; ++i)
        fall_line_add(&l, 0.1 * i, db_to_power(-20.0 - 6.0 * i + off[i]));
    assert_true(fabs(fall_line_time(&l) - 1.0) < 1e-9 && fabs(fall_line_off(&l) - 1.0) < 1e-9);
    fall_line_add(&l, 0.4, db_to_power(-20.0 - 6.0 * 4 - 5.0));
    assert_true(fabs(fall_line_time(&l) - 60.0 / (60.0 + 10.0)) < 1e-9);
}

static void what_is_no_fall_gives_nothing(void **state)
{
    (void)state;
    FallLine up = {0}, still = {0}, gone = {0}, level = {0};
    assert_true(time_of(0.5, -20.0, 3) == 0.0);
    assert_true(time_of(0.5, -20.0, 4) > 0.0);
    for (int i = 0; i < 9; ++i) {
        fall_line_add(&up, 0.01 * i, db_to_power(-40.0 + i));
        fall_line_add(&still, 0.25, db_to_power(-20.0 - i));
        fall_line_add(&level, 0.25 * i, 1.0);
        fall_line_add(&gone, 0.01 * i, i < 3 ? db_to_power(-20.0 - i) : i % 2 ? 0.0 : -1e-6);
    }
    assert_true(fall_line_time(&level) == 0.0 && fall_line_off(&level) == 0.0);
    assert_true(fall_line_off(&up) == 0.0 && fall_line_off(&still) == 0.0 && fall_line_off(&gone) == 0.0);
    assert_true(fall_line_time(&up) == 0.0 && fall_line_time(&still) == 0.0 && fall_line_time(&gone) == 0.0);
    fall_line_add(&gone, 0.03, db_to_power(-23.0));
    assert_true(fabs(fall_line_time(&gone) - 0.6) < 1e-9 && fall_line_off(&gone) < 1e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_straight_fall_gives_its_time),
        cmocka_unit_test(it_is_the_line_of_least_squares),
        cmocka_unit_test(what_is_no_fall_gives_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
