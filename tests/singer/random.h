/* Random numbers that are the same on every machine: PCG32 (M. O'Neill, "PCG", HMC-CS-2014-0905), one stream for
 * each purpose, so that drawing more for one fault never moves another. */
#ifndef LINCTUS_SINGER_RANDOM_H
#define LINCTUS_SINGER_RANDOM_H

#include <stdint.h>

typedef struct {
    uint64_t state, step;
} Random;

static inline uint32_t random_bits(Random *r)
{
    const uint64_t s = r->state;
    r->state = s * 6364136223846793005u + r->step;
    const uint32_t folded = (uint32_t)(((s >> 18) ^ s) >> 27);
    const uint32_t turn = (uint32_t)(s >> 59);
    return folded >> turn | folded << (-turn & 31u);
}

static inline Random random_stream(uint64_t seed, uint64_t stream)
{
    Random r = {0, stream << 1 | 1u};
    random_bits(&r);
    r.state += seed;
    random_bits(&r);
    return r;
}

/* 0 or more, under 1. */
static inline double random_unit(Random *r)
{
    return random_bits(r) * 0x1p-32;
}

static inline double random_between(Random *r, double lo, double hi)
{
    return lo + (hi - lo) * random_unit(r);
}

/* 0..count-1; count is small, so the bias of the product does not matter. */
static inline uint32_t random_below(Random *r, uint32_t count)
{
    return (uint32_t)((uint64_t)random_bits(r) * count >> 32);
}

/* White noise, RMS 1, even distribution. */
static inline float random_noise(Random *r)
{
    return (float)(int32_t)random_bits(r) * (1.7320508f * 0x1p-31f);
}

#endif
