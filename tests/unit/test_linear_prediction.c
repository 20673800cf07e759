/* Linear prediction: the predictor of a known process is found, it is the one that a general solver finds, and silence
 * has none. */
#include "linear_prediction.h"

#include "cholesky.h"
#include "figure.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum { ORDER = LINEAR_PREDICTION_MOST, LONG = 400 };

#define WHITE 1e-4 /* of the power, as the header says */

/* Autocorrelation of white noise through 1 / (1 - 1.6 z^-1 + 0.8 z^-2), from its impulse response. */
static void process(double *r)
{
    double h[LONG] = {1.0, 1.6};
    for (int i = 2; i < LONG; ++i)
        h[i] = 1.6 * h[i - 1] - 0.8 * h[i - 2];
    for (int lag = 0; lag <= ORDER; ++lag) {
        r[lag] = 0.0;
        for (int i = lag; i < LONG; ++i)
            r[lag] += h[i] * h[i - lag];
    }
}

static void it_is_that_of_the_process(void **state)
{
    (void)state;
    double r[ORDER + 1], a[ORDER + 1];
    process(r);
    linear_prediction(r, 16, a);
    assert_true(a[0] == 1.0);
    figure_within("Linear prediction", "process of order 2: first coefficient", a[1], -1.6, 0.02, "", "own truth");
    figure_within("Linear prediction", "process of order 2: second coefficient", a[2], 0.8, 0.02, "", "own truth");
    for (int k = 3; k <= 16; ++k)
        assert_true(fabs(a[k]) < 0.03);
}

/* The equations that define it, solved by Cholesky factors. */
static void solve(const double *r, uint32_t order, double *a)
{
    double matrix[ORDER * ORDER];
    for (uint32_t i = 0; i < order; ++i) {
        for (uint32_t k = 0; k < order; ++k)
            matrix[i * order + k] = i == k ? r[0] * (1.0 + WHITE) : r[i > k ? i - k : k - i];
        a[i + 1] = -r[i + 1];
    }
    for (uint32_t i = 0; i < order; ++i)
        cholesky_row(matrix, order, i, a + 1);
    cholesky_back(matrix, order, a + 1);
    a[0] = 1.0;
}

static void it_is_what_a_general_solver_finds(void **state)
{
    (void)state;
    static const uint32_t orders[] = {1, 2, 3, 16, ORDER};
    double r[ORDER + 1], a[ORDER + 2], b[ORDER + 1], worst = 0.0;
    process(r);
    for (uint32_t i = 0; i < sizeof orders / sizeof *orders; ++i) {
        a[orders[i] + 1] = 7.0;
        linear_prediction(r, orders[i], a);
        assert_true(a[orders[i] + 1] == 7.0);
        solve(r, orders[i], b);
        for (uint32_t k = 0; k <= orders[i]; ++k)
            worst = fmax(worst, fabs(a[k] - b[k]));
    }
    figure_at_most("Linear prediction", "orders 1 to 32, beside Cholesky factors: coefficients apart", worst, 1e-12, "",
                   "Makhoul 1975, the normal equations; wide: rounding");
}

static void silence_has_none(void **state)
{
    (void)state;
    const double none[ORDER + 1] = {0.0};
    double a[ORDER + 1];
    memset(a, 1, sizeof a);
    linear_prediction(none, ORDER, a);
    for (int k = 0; k <= ORDER; ++k)
        assert_true(a[k] == (k ? 0.0 : 1.0));
}

static void its_gain_is_the_energy_of_its_response(void **state)
{
    (void)state;
    const double a[] = {1.0, -2.0, 0.5, 100.0};
    assert_true(linear_prediction_gain(a, 2) == 5.25);
    assert_true(linear_prediction_gain(a, 1) == 5.0);
}

enum { BEFORE = 3, SAMPLES = 24 };

/* Whole numbers, so that no order of additions rounds. */
static float sample(int i)
{
    return (float)((i * i * 7) % 13 - 6);
}

static void its_error_is_a_sum_over_the_samples_before(void **state)
{
    (void)state;
    const double a[BEFORE + 1] = {1.0, -2.0, 3.0, 0.5};
    float x[BEFORE + SAMPLES + 7];
    for (int i = 0; i < BEFORE + SAMPLES + 7; ++i)
        x[i] = sample(i);
    double sum = 0.0;
    for (uint32_t n = 1; n <= SAMPLES; ++n) {
        double error = 0.0;
        for (uint32_t k = 0; k <= BEFORE; ++k)
            error += a[k] * (double)x[BEFORE + n - 1 - k];
        sum += error * error;
        assert_true(linear_prediction_error(a, BEFORE, x + BEFORE, n) == sum / n);
    }
}

static void lags_come_by_fours(void **state)
{
    (void)state;
    for (uint32_t n = 1; n <= SAMPLES; ++n) {
        float x[SAMPLES + 16] = {0.f};
        double alike[8];
        for (uint32_t i = 0; i < n; ++i)
            x[i] = sample((int)i);
        linear_prediction_lags(x, n, 0, alike);
        linear_prediction_lags(x, n, 4, alike);
        for (uint32_t lag = 0; lag < 8; ++lag) {
            double sum = 0.0;
            for (uint32_t i = 0; i < n; ++i)
                sum += (double)x[i] * (double)x[i + lag];
            assert_true(alike[lag] == sum);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_is_that_of_the_process),
        cmocka_unit_test(it_is_what_a_general_solver_finds),
        cmocka_unit_test(silence_has_none),
        cmocka_unit_test(its_gain_is_the_energy_of_its_response),
        cmocka_unit_test(its_error_is_a_sum_over_the_samples_before),
        cmocka_unit_test(lags_come_by_fours),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
