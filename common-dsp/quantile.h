/* Quantiles of a row of numbers. */
#ifndef LINCTUS_QUANTILE_H
#define LINCTUS_QUANTILE_H

#include <stdint.h>

/* The value of n of which this share, 0..1, lies below, without interpolation; 0 of none. Sorts them. Allocates where
 * qsort() does. */
double quantile(double *value, uint32_t n, double share);

#endif
