#include "values.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>

#include <cmocka.h>

void values_add(Values *v, double x)
{
    assert_true(v->n < VALUES_MOST);
    v->value[v->n++] = x;
}

void values_add_all(Values *v, const Values *other)
{
    for (uint32_t i = 0; i < other->n; ++i)
        values_add(v, other->value[i]);
}

int values_by_size(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double values_at(Values *v, double share)
{
    qsort(v->value, v->n, sizeof *v->value, values_by_size);
    return v->n ? v->value[(uint32_t)(share * (v->n - 1) + 0.5)] : 0.0;
}

double values_median(Values *v)
{
    qsort(v->value, v->n, sizeof *v->value, values_by_size);
    return v->n ? 0.5 * (v->value[(v->n - 1) / 2] + v->value[v->n / 2]) : 0.0;
}

double values_farthest(const Values *v)
{
    double farthest = 0.0;
    for (uint32_t i = 0; i < v->n; ++i)
        farthest = fmax(farthest, fabs(v->value[i]));
    return farthest;
}

double values_within(const Values *v, double limit)
{
    uint32_t within = 0;
    for (uint32_t i = 0; i < v->n; ++i)
        within += fabs(v->value[i]) < limit;
    return v->n ? (double)within / v->n : 1.0;
}
