#include "clipping.h"

#include "four_math.h"

uint32_t clipping_count(Clipping *c, const float *in, uint32_t n)
{
    uint32_t found = 0;
    if (n && four_largest(in, n) < CLIPPING_FULL) {
        clipping_none(c, in[n - 1]);
        return 0;
    }
    for (uint32_t i = 0; i < n; ++i) {
        const float x = in[i];
        const bool flat = x == c->last && (x >= CLIPPING_FULL || x <= -CLIPPING_FULL);
        if (flat)
            found += c->flat ? 1 : 2; /* with its second sample the run's first is known too */
        c->flat = flat;
        c->last = x;
    }
    return found;
}
