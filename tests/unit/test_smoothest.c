/* The smoothest curve and the quantile: small rows whose answer is known. */
#include "quantile.h"
#include "smoothest.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum { N = 40 };

/* Every number's weight is 1 but for one of three, which has none and lies far away. */
static void curve(double *value, int order, double stiff)
{
    double row[SMOOTHEST_ORDER + 1][N] = {{0.0}}, *const band[] = {row[0], row[1], row[2], row[3]};
    for (int i = 0; i < N; ++i)
        row[0][i] = i % 3 == 1 ? 0.0 : 1.0;
    smoothest(value, band, N, order, stiff);
}

/* Of order d, a polynomial of a lower degree costs nothing: it comes back whole, holes filled. */
static void a_polynomial_is_smooth(void **state)
{
    (void)state;
    for (int order = 1; order <= SMOOTHEST_ORDER; ++order) {
        double value[N];
        for (int i = 0; i < N; ++i)
            value[i] = i % 3 == 1 ? 1e3 : 2.0 + (order > 1 ? 0.5 * i : 0.0) + (order > 2 ? 0.1 * i * i : 0.0);
        curve(value, order, 10.0);
        for (int i = 0; i < N; ++i) {
            const double is = 2.0 + (order > 1 ? 0.5 * i : 0.0) + (order > 2 ? 0.1 * i * i : 0.0);
            assert_true(fabs(value[i] - is) < 1e-6);
        }
    }
}

static double cost(const double *x, const double *value, int order, double stiff)
{
    double d[N], sum = 0.0;
    for (int i = 0; i < N; ++i)
        sum += i % 3 == 1 ? 0.0 : (x[i] - value[i]) * (x[i] - value[i]);
    memcpy(d, x, sizeof d);
    for (int n = 0; n < order; ++n)
        for (int i = 0; i + n + 1 < N; ++i)
            d[i] = d[i + 1] - d[i];
    for (int i = 0; i + order < N; ++i)
        sum += stiff * d[i] * d[i];
    return sum;
}

/* By what it says it does: whatever number is moved, it costs more. */
static void nothing_near_costs_less(void **state)
{
    (void)state;
    for (int order = 1; order <= SMOOTHEST_ORDER; ++order) {
        double value[N], x[N];
        for (int i = 0; i < N; ++i)
            x[i] = value[i] = sin(1.7 * i * i);
        curve(x, order, 3.0);
        const double least = cost(x, value, order, 3.0);
        for (int i = 0; i < 2 * N; ++i) {
            const double was = x[i / 2];
            x[i / 2] += i % 2 ? 1e-3 : -1e-3;
            assert_true(cost(x, value, order, 3.0) > least);
            x[i / 2] = was;
        }
    }
}

static void a_quantile_is_one_of_them(void **state)
{
    (void)state;
    double value[] = {5.0, -1.0, 3.0, 3.0, 9.0};
    assert_true(quantile(value, 5, 0.0) == -1.0);
    assert_true(quantile(value, 5, 0.5) == 3.0);
    assert_true(quantile(value, 5, 0.74) == 3.0);
    assert_true(quantile(value, 5, 0.75) == 5.0);
    assert_true(quantile(value, 5, 1.0) == 9.0);
    assert_true(quantile(value, 1, 0.5) == -1.0);
    assert_true(quantile(value, 0, 0.5) == 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_polynomial_is_smooth),
        cmocka_unit_test(nothing_near_costs_less),
        cmocka_unit_test(a_quantile_is_one_of_them),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
