#include "envelope.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

bool peak_hold_init(PeakHold *p, uint32_t samples)
{
    uint32_t leaves = 1;
    while (leaves < samples + 1)
        leaves *= 2;
    *p = (PeakHold){.node = calloc(2 * (size_t)leaves, sizeof *p->node), .leaves = leaves, .length = samples + 1};
    return p->node;
}

void peak_hold_done(PeakHold *p)
{
    free(p->node);
    *p = (PeakHold){0};
}

void peak_hold_reset(PeakHold *p)
{
    memset(p->node, 0, 2 * (size_t)p->leaves * sizeof *p->node);
    p->at = 0;
}

/* After n steps two poles a leave (1 + n (1 - a)) a^n of a step; n = seconds rate may lie between steps. With
 * a = exp(-z/n), that is 1/e where z = 1 + log(1 + n (1 - exp(-z/n))): solved by Newton's method, which from above
 * needs no more than these rounds for any n. */
double follower_keep(double seconds, double rate)
{
    const double n = seconds * rate;
    if (!(n > 0.0))
        return 0.0;
    double z = 2.2;
    for (int round = 0; round < 8; ++round) {
        const double inside = 1.0 - n * expm1(-z / n);
        const double miss = 1.0 + log(inside) - z;
        const double slope = exp(-z / n) / inside - 1.0;
        z -= miss / slope;
    }
    return exp(-z / n);
}
