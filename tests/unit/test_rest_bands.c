/* What a breath's spectrum is, by the powers of the four bands, a hundredth to either side of each edge. */
#include "rest_bands.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static bool breath(double low, double dull, double bright, double high)
{
    return rest_bands_breath((const double[REST_BANDS]){low, dull, bright, high});
}

static void the_middle_bands_hold_most_of_it(void **state)
{
    (void)state;
    assert_true(breath(0.0, 0.28, 0.28, 0.44));
    assert_false(breath(0.0, 0.27, 0.27, 0.46));
}

static void neither_of_them_is_far_stronger(void **state)
{
    (void)state;
    assert_true(breath(0.0, 4.95, 1.0, 0.0));
    assert_false(breath(0.0, 5.05, 1.0, 0.0));
    assert_true(breath(0.0, 1.0, 4.95, 0.0));
    assert_false(breath(0.0, 1.0, 5.05, 0.0));
}

static void the_lowest_band_holds_little(void **state)
{
    (void)state;
    assert_true(breath(0.99, 1.0, 1.0, 0.0));
    assert_false(breath(1.01, 1.0, 1.0, 0.0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_middle_bands_hold_most_of_it),
        cmocka_unit_test(neither_of_them_is_far_stronger),
        cmocka_unit_test(the_lowest_band_holds_little),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
