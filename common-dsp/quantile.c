#include "quantile.h"

#include <stdlib.h>

static int by_value(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double quantile(double *value, uint32_t n, double share)
{
    qsort(value, n, sizeof *value, by_value);
    return n ? value[(uint32_t)(share * (n - 1))] : 0.0;
}
