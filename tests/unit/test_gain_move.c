/* A gain on the move: how fast, how smooth, where it lands. */
#include "gain_move.h"

#include "figure.h"
#include "units.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

static const double rates[] = {8000, 44100, 48000, 96000, 192000, 384000};
enum { RATES = sizeof rates / sizeof *rates };
#define EASE 0.01 /* s */

static GainMove moves;

static GainMove *fresh(double rate)
{
    gain_move_done(&moves);
    assert_true(gain_move_init(&moves, rate, 6.0, 24.0, EASE));
    return &moves;
}

static void run(GainMove *m, double rate, double seconds)
{
    for (uint32_t t = 0; t < (uint32_t)ceil(rate * seconds); ++t)
        gain_move_step(m);
}

static void rests_at_exactly_one(void **state)
{
    (void)state;
    GainMove *m = fresh(48000.0);
    assert_true(gain_move_step(m) == 1.0);
    gain_move_to(m, 3.0);
    run(m, 48000.0, 0.7);
    gain_move_to(m, 0.0);
    run(m, 48000.0, 0.7);
    assert_true(gain_move_step(m) == 1.0);
    assert_int_equal(m->moving, 0);
}

static void climbs_at_six_db_a_second(void **state)
{
    (void)state;
    double fastest = 0.0;
    for (int r = 0; r < RATES; ++r) {
        GainMove *m = fresh(rates[r]);
        const uint32_t apart = (uint32_t)(rates[r] / 1000.0);
        gain_move_to(m, 12.0);
        double before = 0.0;
        for (uint32_t t = 0; t < (uint32_t)(2.1 * rates[r]); ++t) {
            gain_move_step(m);
            if (t % apart)
                continue;
            fastest = fmax(fastest, (gain_move_db(m) - before) / (apart / rates[r]));
            before = gain_move_db(m);
        }
        assert_float_equal(gain_move_db(m), 12.0, 1e-6);
    }
    figure_at_most("Trim", "gain on its way up, any rate", fastest, 6.0001, "dB/s", "requirement");
    assert_true(fastest > 5.9);
}

/* 12 dB at 24 dB/s take half a second, and the means of what comes last EASE. */
static void falls_at_24_db_a_second_and_arrives_in_time(void **state)
{
    (void)state;
    for (int r = 0; r < RATES; ++r) {
        GainMove *m = fresh(rates[r]);
        gain_move_to(m, -12.0);
        run(m, rates[r], 0.5 - EASE);
        assert_true(gain_move_db(m) > -11.9);
        run(m, rates[r], 2.0 * EASE + 0.001); /* the speed is rounded down */
        assert_float_equal(gain_move_db(m), -12.0, 1e-6);
        assert_true(gain_move_db(m) <= -12.0);
    }
}

/* Downward: a limit given in dB holds. */
static void a_goal_between_two_steps_is_not_passed(void **state)
{
    (void)state;
    static const double goal[] = {-1.0 / 3.0, -7.77, 2.1, 0.1};
    GainMove *m = fresh(48000.0);
    for (size_t i = 0; i < sizeof goal / sizeof *goal; ++i) {
        gain_move_to(m, goal[i]);
        run(m, 48000.0, 2.0);
        assert_true(gain_move_db(m) <= goal[i]);
        assert_true(gain_move_db(m) > goal[i] - 1e-6);
    }
}

static void a_rest_reached_equals_a_jump(void **state)
{
    (void)state;
    GainMove *m = fresh(44100.0);
    gain_move_to(m, 1.234567);
    run(m, 44100.0, 1.0);
    const double reached = gain_move_step(m);
    gain_move_jump(m, 1.234567);
    assert_true(reached == gain_move_step(m));
}

static void far_goals_are_held_in_range(void **state)
{
    (void)state;
    GainMove *m = fresh(384000.0);
    gain_move_jump(m, 1000.0);
    assert_float_equal(gain_move_db(m), 60.0, 1e-6);
    gain_move_to(m, -1000.0);
    run(m, 384000.0, 5.01 + EASE);
    assert_float_equal(gain_move_db(m), -60.0, 1e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rests_at_exactly_one),
        cmocka_unit_test(climbs_at_six_db_a_second),
        cmocka_unit_test(falls_at_24_db_a_second_and_arrives_in_time),
        cmocka_unit_test(a_goal_between_two_steps_is_not_passed),
        cmocka_unit_test(a_rest_reached_equals_a_jump),
        cmocka_unit_test(far_goals_are_held_in_range),
    };
    const int failed = cmocka_run_group_tests(tests, NULL, NULL);
    gain_move_done(&moves);
    return failed;
}
