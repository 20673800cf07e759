#include "linear_prediction.h"

#include <string.h>

#define WHITE_NOISE_SHARE 1e-4 /* share of the power that is added to it as white noise, -40 dB */

/* Raises a predictor from order `at` - 1 to `at`; left: power of its error before. Returns that after. */
static double raise(const double *alike, uint32_t at, double left, double *a)
{
    double sum = 0.0, next[LINEAR_PREDICTION_MOST + 1];
    for (uint32_t k = 0; k < at; ++k)
        sum += a[k] * alike[at - k];
    const double turn = -sum / left;
    for (uint32_t k = 1; k < at; ++k)
        next[k] = a[k] + turn * a[at - k];
    memcpy(a + 1, next + 1, (at - 1) * sizeof *a);
    a[at] = turn;
    return left * (1.0 - turn * turn);
}

void linear_prediction(const double *alike, uint32_t order, double *a)
{
    double left = alike[0] * (1.0 + WHITE_NOISE_SHARE);
    memset(a, 0, (order + 1) * sizeof *a);
    a[0] = 1.0;
    for (uint32_t at = 1; at <= order && left > 0.0; ++at)
        left = raise(alike, at, left, a);
}

double linear_prediction_gain(const double *a, uint32_t order)
{
    double sum = 0.0;
    for (uint32_t k = 0; k <= order; ++k)
        sum += a[k] * a[k];
    return sum;
}
