/* The smoother: neither its value nor its slope jumps, and it arrives. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "figure.h"
#include "smooth.h"

static void the_first_value_holds_at_once(void **state)
{
    (void)state;
    Smooth s;
    smooth_init(&s, 48000, 0.01);
    smooth_to(&s, -6.5);
    assert_true(smooth_settled(&s));
    assert_true(smooth_step(&s) == -6.5);
}

static void a_restart_lets_the_next_value_hold_at_once(void **state)
{
    (void)state;
    Smooth s;
    smooth_init(&s, 48000, 0.01);
    smooth_to(&s, 1);
    smooth_to(&s, 2);
    assert_false(smooth_settled(&s));
    smooth_restart(&s);
    smooth_to(&s, 3);
    assert_true(smooth_step(&s) == 3.0);
    smooth_to(&s, 4); /* and only the next */
    assert_true(smooth_step(&s) < 4.0);
}

static void a_jump_is_there_at_once(void **state)
{
    (void)state;
    Smooth s;
    smooth_init(&s, 48000, 0.01);
    smooth_to(&s, 1);
    smooth_jump(&s, 5);
    assert_true(smooth_settled(&s) && smooth_step(&s) == 5.0);
}

/* Two equal poles: 1 - (1 + t/tau) exp(-t/tau), from the theory of linear systems. */
static void a_step_is_critically_damped(void **state)
{
    (void)state;
    const double tau = 0.01, rate = 48000;
    Smooth s;
    smooth_init(&s, rate, tau);
    smooth_to(&s, 0);
    smooth_to(&s, 1);
    double worst = 0.0, last = 0.0;
    for (int i = 1; i < 9600; ++i) {
        const double t = i / rate / tau, y = smooth_step(&s);
        assert_true(y >= last && y <= 1.0);
        worst = fmax(worst, fabs(y - (1.0 - (1.0 + t) * exp(-t))));
        last = y;
    }
    figure_at_most("Smooth", "step, against two equal poles in continuous time: error", worst, 0.002, "", "theory");
}

/* A kink in a gain is a tick. The curve's own bend is y'' = (target - y) / tau^2 - 2 y' / tau; here the way is at most
 * 2 and the slope at most 1/(e tau). */
static void neither_value_nor_slope_jumps(void **state)
{
    (void)state;
    const double tau = 0.01, rate = 48000;
    Smooth s;
    smooth_init(&s, rate, tau);
    smooth_to(&s, 0);
    double before = smooth_step(&s), slope = 0.0, worst = 0.0;
    for (int i = 0; i < 20000; ++i) {
        if (i == 100)
            smooth_to(&s, 1);
        if (i == 700)
            smooth_to(&s, -1); /* turned round half-way */
        const double y = smooth_step(&s);
        worst = fmax(worst, fabs(y - before - slope));
        slope = y - before;
        before = y;
    }
    figure_at_most("Smooth", "largest change of slope, steps of at most 2", worst,
                   (2.0 + 2.0 / exp(1.0)) / pow(tau * rate, 2), "/sample^2", "theory");
}

static void it_arrives_exactly(void **state)
{
    (void)state;
    static const double targets[] = {0.0, -0.0, 1.0, -12.0, 1e-9, 13.2877, 20000.0, -1e6};
    for (size_t i = 0; i < sizeof targets / sizeof *targets; ++i) {
        Smooth s;
        smooth_init(&s, 1000, 0.02);
        smooth_to(&s, 7);
        smooth_to(&s, targets[i]);
        int steps = 0;
        while (!smooth_settled(&s) && steps < 1000) {
            smooth_step(&s);
            ++steps;
        }
        assert_true(smooth_step(&s) == targets[i]);
        assert_true(steps <= 600); /* 30 tau */
    }
}

static void no_time_is_no_smoothing(void **state)
{
    (void)state;
    Smooth s;
    smooth_init(&s, 48000, 0);
    smooth_to(&s, 1);
    smooth_to(&s, 2);
    assert_true(smooth_step(&s) == 2.0);
}

/* On the way there, on landing and at rest, in pieces of any length. */
static void many_steps_are_as_many_single_ones(void **state)
{
    (void)state;
    enum { LONGEST = 32, STEPS = 3000 };
    Smooth one, two, single_one, single_two, alone;
    smooth_init(&one, 1000, 0.02);
    smooth_init(&two, 1000, 0.03);
    smooth_jump(&one, 3.0);
    smooth_jump(&two, -40.0);
    uint32_t landed = 0;
    for (uint32_t at = 0, n; at < STEPS; at += n) {
        double value_one[LONGEST], value_two[LONGEST], value_alone[LONGEST];
        n = 1 + (at * 7 + 5) % LONGEST;
        if (at % 1000 < n) {
            smooth_to(&one, one.target + 1.0);
            smooth_to(&two, at < 1500 ? 0.0 : -17.0);
        }
        single_one = alone = one;
        single_two = two;
        smooth_run_both(&one, value_one, &two, value_two, n);
        smooth_run(&alone, value_alone, n);
        for (uint32_t t = 0; t < n; ++t) {
            assert_true(value_one[t] == smooth_step(&single_one) && value_alone[t] == value_one[t]);
            assert_true(value_two[t] == smooth_step(&single_two));
        }
        assert_true(one.first == single_one.first && one.value == single_one.value);
        assert_true(two.first == single_two.first && two.value == single_two.value);
        assert_true(alone.first == one.first && alone.value == one.value);
        landed += smooth_settled(&one) + 0x10000u * smooth_settled(&two);
    }
    assert_true(landed % 0x10000u > 10 && landed / 0x10000u > 10);
}

/* At rest where it was bound for; and the next value holds at once. */
static void a_restart_at_the_target_is_there(void **state)
{
    (void)state;
    Smooth s;
    smooth_init(&s, 1000, 0.02);
    smooth_jump(&s, 1.0);
    smooth_to(&s, 3.0);
    smooth_step(&s);
    smooth_restart_at_target(&s);
    assert_true(smooth_settled(&s) && s.value == 3.0);
    smooth_to(&s, -5.0);
    assert_true(smooth_settled(&s) && s.value == -5.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_first_value_holds_at_once),
        cmocka_unit_test(a_restart_lets_the_next_value_hold_at_once),
        cmocka_unit_test(a_jump_is_there_at_once),
        cmocka_unit_test(a_step_is_critically_damped),
        cmocka_unit_test(neither_value_nor_slope_jumps),
        cmocka_unit_test(it_arrives_exactly),
        cmocka_unit_test(no_time_is_no_smoothing),
        cmocka_unit_test(many_steps_are_as_many_single_ones),
        cmocka_unit_test(a_restart_at_the_target_is_there),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
