/* Cholesky factors, row by row: they solve what they should, and a singular matrix stays finite. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "cholesky.h"

enum { N = 12 };

/* Moler's matrix: min(i, j) - 2 (from 1), i on the diagonal; positive, badly conditioned. */
static void moler(double a[N][N])
{
    for (int i = 0; i < N; ++i)
        for (int j = 0; j < N; ++j)
            a[i][j] = i == j ? i + 1 : (i < j ? i : j) - 1;
}

static void it_solves(void **state)
{
    (void)state;
    double a[N][N], factor[N][N], x[N], y[N], other[N];
    moler(a);
    moler(factor);
    for (int i = 0; i < N; ++i) {
        x[i] = other[i] = 0;
        for (int j = 0; j < N; ++j)
            x[i] += a[i][j] * (j - 3);
        other[i] = y[i] = x[i];
    }
    for (uint32_t i = 0; i < N; ++i)
        cholesky_row(factor[0], N, i, x);
    double squares = 0;
    for (int i = 0; i < N; ++i)
        squares += x[i] * x[i];
    assert_true(fabs(cholesky_forward(factor[0], N, other) - squares) < 1e-9 * squares);
    cholesky_back(factor[0], N, x);
    cholesky_back(factor[0], N, other);
    for (int i = 0; i < N; ++i) {
        assert_true(fabs(x[i] - (i - 3)) < 1e-6);
        assert_true(fabs(other[i] - (i - 3)) < 1e-6);
    }
}

static void a_singular_matrix_stays_finite(void **state)
{
    (void)state;
    double a[4] = {1, 1, 1, 1}, x[2] = {1, 1};
    cholesky_row(a, 2, 0, x);
    cholesky_row(a, 2, 1, x);
    cholesky_back(a, 2, x);
    assert_true(isfinite(x[0]) && isfinite(x[1]));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_solves),
        cmocka_unit_test(a_singular_matrix_stays_finite),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
