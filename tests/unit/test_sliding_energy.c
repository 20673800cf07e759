/* The energy of a sliding window against sums of squares, one window at a time. */
#include "sliding_energy.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

enum { WINDOW = 240, COUNT = 100, SAMPLES = WINDOW + COUNT + 1 };

static double plain(const float *x)
{
    double sum = 0.0;
    for (uint32_t i = 0; i < WINDOW; ++i)
        sum += (double)x[i] * (double)x[i];
    return sum;
}

static void is_the_sum_of_squares(void **state)
{
    (void)state;
    float x[SAMPLES];
    double energy[COUNT];
    for (uint32_t i = 0; i < SAMPLES; ++i)
        x[i] = (float)(sin(0.3 * i) + 0.5 * cos(1.7 * i * i) + (i == 170 ? 20.0 : 0.0));
    sliding_energy(x, WINDOW, COUNT, energy);
    for (uint32_t i = 0; i < COUNT; ++i)
        assert_true(fabs(energy[i] - plain(x + i)) < 1e-11 * energy[i]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(is_the_sum_of_squares),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
