#include "cholesky.h"

#include "two.h"

#include <math.h>
#include <stddef.h>

#define LEAST_PIVOT 1e-9 /* least square of a pivot: keeps a matrix finite that is singular but for rounding */

/* Sum of a[k] b[k], in four partial sums, so that no addition waits for the one before it. */
static double product(const double *a, const double *b, size_t n)
{
    Two first = two_of(0.0, 0.0), second = first;
    double rest = 0.0;
    size_t k = 0;
    for (; k + 4 <= n; k += 4) {
        first = two_add(first, two_mul(two_of(a[k], a[k + 1]), two_of(b[k], b[k + 1])));
        second = two_add(second, two_mul(two_of(a[k + 2], a[k + 3]), two_of(b[k + 2], b[k + 3])));
    }
    for (; k < n; ++k)
        rest += a[k] * b[k];
    const Two all = two_add(first, second);
    return two_lane(all, 0) + two_lane(all, 1) + rest;
}

void cholesky_row(double *matrix, uint32_t n, uint32_t at, double *right)
{
    double *const row = matrix + (size_t)at * n;
    for (uint32_t j = 0; j <= at; ++j) {
        const double *const other = matrix + (size_t)j * n;
        const double sum = row[j] - product(row, other, j);
        row[j] = j < at ? sum / other[j] : sqrt(fmax(sum, LEAST_PIVOT));
    }
    right[at] = (right[at] - product(row, right, at)) / row[at];
}

double cholesky_forward(const double *factor, uint32_t n, double *x)
{
    double squares = 0.0;
    for (uint32_t i = 0; i < n; ++i) {
        const double *const row = factor + (size_t)i * n;
        x[i] = (x[i] - product(row, x, i)) / row[i];
        squares += x[i] * x[i];
    }
    return squares;
}

void cholesky_back(const double *factor, uint32_t n, double *y)
{
    for (uint32_t i = n; i-- > 0;) {
        const double *const row = factor + (size_t)i * n;
        y[i] /= row[i];
        for (uint32_t k = 0; k < i; ++k)
            y[k] -= row[k] * y[i];
    }
}
