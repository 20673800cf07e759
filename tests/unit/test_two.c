/* Vectors of two: each function does what its page says, to the bit. The plain C that takes their place where a
 * compiler has no vectors is compared in test_lanes.c. */
#include "two.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static void reckons_lane_by_lane(void **state)
{
    (void)state;
    const double a[] = {1.5, -0.0}, b[] = {0.1, 3e-310};
    const Two x = two_of(a[0], a[1]), y = two_of(b[0], b[1]);
    for (int i = 0; i < 2; ++i) {
        assert_true(two_lane(two_add(x, y), i) == a[i] + b[i]);
        assert_true(two_lane(two_sub(x, y), i) == a[i] - b[i]);
        assert_true(two_lane(two_mul(x, y), i) == a[i] * b[i]);
    }
}

static void puts_one_and_leaves_the_other(void **state)
{
    (void)state;
    const Two x = two_of(1.0, 2.0), first = two_put(x, 0, 7.0), second = two_put(x, 1, 9.0);
    assert_true(two_lane(first, 0) == 7.0 && two_lane(first, 1) == 2.0);
    assert_true(two_lane(second, 0) == 1.0 && two_lane(second, 1) == 9.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reckons_lane_by_lane),
        cmocka_unit_test(puts_one_and_leaves_the_other),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
