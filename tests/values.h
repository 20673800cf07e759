/* Values of which a test tells the median and the worst. */
#ifndef LINCTUS_VALUES_H
#define LINCTUS_VALUES_H

#include <stdint.h>

enum { VALUES_MOST = 4000 };

typedef struct {
    double value[VALUES_MOST];
    uint32_t n;
} Values;

/* The cmocka test fails where there is no room left. */
void values_add(Values *v, double x);

/* All of the other's. */
void values_add_all(Values *v, const Values *other);

/* The value under which this share of them lies: 0 the least, 1 the greatest. Sorts them. 0 when there are none. */
double values_at(Values *v, double share);

/* The mean of the middle two where they are even in number. Sorts them. 0 when there are none. */
double values_median(Values *v);

/* For qsort(): doubles, the least first. */
int values_by_size(const void *a, const void *b);

/* The greatest distance from 0, and the share of those that are less than `limit` from it: 1 when there are none. */
double values_farthest(const Values *v);
double values_within(const Values *v, double limit);

#endif
