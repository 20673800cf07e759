#include "linear_prediction.h"

#include "four.h"
#include "rows.h"

#include <string.h>

#define WHITE_NOISE_SHARE 1e-4 /* share of the power that is added to it as white noise, -40 dB */

void linear_prediction_lags(const float *x, uint32_t n, uint32_t first, double *alike)
{
    const float *const now[ROWS_PAIRS] = {x, x, x, x};
    const float *const later[ROWS_PAIRS] = {x + first, x + first + 1, x + first + 2, x + first + 3};
    float sum[ROWS_PAIRS];
    rows_products(now, later, (n + ROWS_STEP - 1) / ROWS_STEP * ROWS_STEP, sum);
    for (uint32_t k = 0; k < ROWS_PAIRS; ++k)
        alike[first + k] = (double)sum[k];
}

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

/* The errors of eight samples. */
static INLINED void errors(const float *a, uint32_t order, const float *x, float *error)
{
    Four one = four_all(0.f), next = four_all(0.f);
    for (uint32_t k = 0; k <= order; ++k) {
        const Four by = four_all(a[k]);
        one = four_add(one, four_mul(by, four_load(x - k)));
        next = four_add(next, four_mul(by, four_load(x - k + FOUR)));
    }
    four_store(error, one);
    four_store(error + FOUR, next);
}

double linear_prediction_error(const double *a, uint32_t order, const float *x, uint32_t n)
{
    float by[LINEAR_PREDICTION_MOST + 1], error[2 * FOUR];
    double sum = 0.0;
    for (uint32_t k = 0; k <= order; ++k)
        by[k] = (float)a[k];
    for (uint32_t i = 0; i < n; ++i) {
        if (i % (2 * FOUR) == 0)
            errors(by, order, x + i, error);
        sum += (double)error[i % (2 * FOUR)] * (double)error[i % (2 * FOUR)];
    }
    return sum / n;
}
