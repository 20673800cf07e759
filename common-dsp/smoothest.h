/* The smoothest curve through values that are worth more or less: E. Whittaker, Proc. Edinburgh Math. Soc. 41, 1923,
 * with weights; from memory. */
#ifndef LINCTUS_SMOOTHEST_H
#define LINCTUS_SMOOTHEST_H

#include <stdint.h>

enum { SMOOTHEST_ORDER = 3 }; /* at most */

/* What minimises sum weight * (x - value)^2 + stiff * (its differences of this order, 1..SMOOTHEST_ORDER)^2: value
 * becomes it. n values, more than `order` of them with a weight over 0; stiff: over 0. band: order + 1 rows of n, the
 * first holds the weights, the others 0; all are used up (Cholesky's way, L D L'). */
void smoothest(double *value, double *const *band, uint32_t n, int order, double stiff);

#endif
