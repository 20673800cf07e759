/* Tally: percentiles, places and mean powers are those of the values themselves. */
#include "tally.h"

#include "units.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static const TallyScale scale = {-50.0, 0.5, 200}; /* to 50 */

static Tally of(const double *value, size_t n)
{
    Tally t = {0};
    for (size_t i = 0; i < n; ++i)
        tally_add(&t, &scale, value[i]);
    return t;
}

static void percentiles_are_those_of_the_values(void **state)
{
    (void)state;
    Tally t = {0};
    for (int i = 0; i < 1000; ++i) /* evenly over -20..20 */
        tally_add(&t, &scale, -20.0 + 0.04 * (i + 0.5));
    assert_int_equal(tally_total(&t, &scale), 1000);
    for (int p = 0; p <= 10; ++p)
        assert_true(fabs(tally_below(&t, &scale, 100.0 * p) - (-20.0 + 4.0 * p)) < 0.5);
    assert_int_equal(tally_from(&t, &scale, 10.0), 250);
}

static void gaps_are_passed_over(void **state)
{
    (void)state;
    const Tally t = of((const double[]){-30.2, -30.3, 20.1, 20.2}, 4);
    assert_true(tally_below(&t, &scale, 1.0) < -30.0);
    assert_true(tally_below(&t, &scale, 2.0) < -29.9);
    assert_true(tally_below(&t, &scale, 3.0) > 20.0);
    assert_true(tally_below(&t, &scale, 4.0) <= 20.5);
}

static void ends_take_what_lies_beyond(void **state)
{
    (void)state;
    const Tally t = of((const double[]){-1e9, 1e9}, 2);
    assert_int_equal(t.count[0], 1);
    assert_int_equal(t.count[scale.bins - 1], 1);
}

static void mean_of_levels_is_that_of_their_powers(void **state)
{
    (void)state;
    const Tally t = of((const double[]){-10.25, -20.25, 10.0}, 3); /* two in the middle of a bin */
    const double want = power_to_db(0.5 * (db_to_power(-10.25) + db_to_power(-20.25)));
    assert_true(fabs(tally_mean_db(&t, &scale, -50.0, 0.0) - want) < 1e-9);
    assert_true(fabs(tally_mean_db(&t, &scale, -15.0, 0.0) + 10.25) < 1e-9);
    assert_true(fabs(tally_mean_db(&t, &scale, -50.0, -10.25) - want) < 1e-9); /* its middle is the end */
    assert_true(fabs(tally_mean_db(&t, &scale, -50.0, -10.26) + 20.25) < 1e-9);
    assert_true(tally_mean_db(&t, &scale, 20.0, 30.0) == UNITS_DB_FLOOR);
    assert_true(tally_mean_db(&t, &scale, -5.0, -30.0) == UNITS_DB_FLOOR);
}

static void a_full_bin_halves_all(void **state)
{
    (void)state;
    Tally t = {0};
    t.count[3] = 1000;
    t.count[100] = TALLY_MOST;
    tally_add(&t, &scale, 0.1);
    assert_int_equal(t.count[100], (TALLY_MOST + 1) / 2);
    assert_int_equal(t.count[3], 500);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(percentiles_are_those_of_the_values),
        cmocka_unit_test(gaps_are_passed_over),
        cmocka_unit_test(ends_take_what_lies_beyond),
        cmocka_unit_test(mean_of_levels_is_that_of_their_powers),
        cmocka_unit_test(a_full_bin_halves_all),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
