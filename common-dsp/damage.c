#include "damage.h"

#include <math.h>
#include <string.h>

#define SIGN_BIT     0x80000000u
#define DAMAGED_FROM 0x41800000u /* the bits of DSP_BROKEN; larger magnitudes, infinity and NaN lie above */

/* Returns a word whose sign bit is set if one of the samples is damaged. Integer arithmetic, so that compilers take
 * several samples at a time. */
static inline uint32_t marks(const float *x, uint32_t n)
{
    uint32_t marked = 0;
    for (uint32_t i = 0; i < n; ++i) {
        uint32_t bits;
        memcpy(&bits, x + i, sizeof bits);
        marked |= (bits & ~SIGN_BIT) + (SIGN_BIT - DAMAGED_FROM);
    }
    return marked;
}

bool damage_is_none(const float *x, uint32_t n)
{
    const uint32_t marked = n == DSP_CELL ? marks(x, DSP_CELL) : marks(x, n);
    return !(marked & SIGN_BIT);
}

void damage_remove(const float *in, float *out, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i)
        out[i] = dsp_undamaged(in[i]);
}

void damage_keep_finite(const float *in, float *out, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i)
        out[i] = isfinite(in[i]) ? in[i] : 0.f;
}
