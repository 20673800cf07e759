/* Linear prediction of a sample from those before it (J. Makhoul, "Linear prediction: a tutorial review", Proc. IEEE
 * 63, 1975; from memory, not opened). A predictor is given by its error filter, coefficients a[0] = 1 to a[order]: the
 * error at sample n is the sum of a[k] x[n - k]. */
#ifndef LINCTUS_LINEAR_PREDICTION_H
#define LINCTUS_LINEAR_PREDICTION_H

#include <stdint.h>

enum { LINEAR_PREDICTION_MOST = 32 }; /* order */

/* Autocorrelation of n samples at the lags first to first + 3, into alike[first] and on. The samples are followed
 * by zeros: first + 10 of them, since rows.h makes rows whole. Added as rows_products() does. */
void linear_prediction_lags(const float *x, uint32_t n, uint32_t first, double *alike);

/* Works out a[0..order] by Levinson's recursion. alike: the autocorrelation at lags 0 to `order`; order:
 * 1..LINEAR_PREDICTION_MOST. White noise of a ten-thousandth of the power is added first, so that the predictor of any
 * finite sound is stable however its autocorrelation is rounded. Silence gives 1, 0, 0, ... */
void linear_prediction(const double *alike, uint32_t order, double *a);

/* The error filter's power gain for white noise, or for a single wrong sample: 1 or more. */
double linear_prediction_gain(const double *a, uint32_t order);

/* Mean square of the error over n samples, 1 or more. x: the first of them; right before it in memory lie the `order`
 * samples that came before it. Up to seven samples after the last are read and not used. */
double linear_prediction_error(const double *a, uint32_t order, const float *x, uint32_t n);

#endif
