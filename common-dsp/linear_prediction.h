/* Linear prediction: what sound does next, from what it has just done (J. Makhoul, "Linear prediction: a tutorial
 * review", Proc. IEEE 63, 1975; from memory, not opened). A predictor is its error filter: coefficients a[0] = 1 to
 * a[order], which leave of a sample x[n] the sum of a[k] x[n - k]. */
#ifndef LINCTUS_LINEAR_PREDICTION_H
#define LINCTUS_LINEAR_PREDICTION_H

#include <stdint.h>

enum { LINEAR_PREDICTION_MOST = 32 }; /* order */

/* Of this order, 1..LINEAR_PREDICTION_MOST, from the autocorrelation at lags 0 to `order`, by Levinson's recursion. A
 * ten-thousandth of the power counts as white noise, so that a predictor of next to nothing stays tame: autocorrelation
 * of finite sound, however rounded, gives a stable one. Of silence it is 1, 0, 0, ... */
void linear_prediction(const double *alike, uint32_t order, double *a);

/* By how much it raises the power of white noise, or the energy of a single sample that is off: 1 or more. */
double linear_prediction_gain(const double *a, uint32_t order);

#endif
