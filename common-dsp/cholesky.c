#include "cholesky.h"

#include <math.h>
#include <stddef.h>

#define LEAST_PIVOT 1e-9 /* of a pivot squared: a matrix that is singular but for rounding stays finite */

void cholesky_row(double *matrix, uint32_t n, uint32_t at, double *right)
{
    double *const row = matrix + (size_t)at * n;
    for (uint32_t j = 0; j <= at; ++j) {
        const double *const other = matrix + (size_t)j * n;
        double sum = row[j];
        for (uint32_t k = 0; k < j; ++k)
            sum -= row[k] * other[k];
        row[j] = j < at ? sum / other[j] : sqrt(fmax(sum, LEAST_PIVOT));
    }
    for (uint32_t k = 0; k < at; ++k)
        right[at] -= row[k] * right[k];
    right[at] /= row[at];
}

double cholesky_forward(const double *factor, uint32_t n, double *x)
{
    double squares = 0.0;
    for (uint32_t i = 0; i < n; ++i) {
        const double *const row = factor + (size_t)i * n;
        double sum = x[i];
        for (uint32_t k = 0; k < i; ++k)
            sum -= row[k] * x[k];
        x[i] = sum / row[i];
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
