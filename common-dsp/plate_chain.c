#include "plate_chain.h"

#include "four.h"

#include <math.h>
#include <stdbool.h>

void plate_chain_place(PlateChain *chain, const double *seconds, double rate)
{
    for (uint32_t s = 0; s < PLATE_STEPS; ++s) {
        chain->delay[s] = (uint32_t)fmax(1.0, round(seconds[s] * rate));
        chain->ring[s] = (PlateRing){.slots = ring_slots(chain->delay[s])};
    }
}

double plate_chain_tune(const PlateChain *chain, double per_sample, float *y)
{
    double power = 1.0;
    for (uint32_t s = 0; s < PLATE_STEPS; ++s) {
        const double gain = exp(per_sample * chain->delay[s]);
        y[s] = (float)gain;
        power *= 0.5 + 0.5 * gain * gain;
    }
    return power;
}

/* y glides in a straight line over the cell, or rests. */
static inline void double_echoes(const float *restrict late, float from, float goal, bool moving, float *restrict a,
                                 float *restrict b)
{
    const float one = (goal - from) / DSP_CELL;
    const Four step = four_all(FOUR * one);
    Four y = four_all(from);
    if (moving)
        y = four_add(y, four_mul(four_all(one), four_load((const float[]){1.f, 2.f, 3.f, 4.f})));
    UNROLLED
    for (uint32_t t = 0; t < DSP_CELL; t += FOUR) {
        const Four w = four_mul(y, four_load(late + t)), x = four_load(a + t);
        four_store(a + t, four_add(x, w));
        four_store(b + t, four_sub(x, w));
        if (moving)
            y = four_add(y, step);
    }
}

/* Each step writes its b where the next one keeps it. */
void plate_chain_run(PlateChain *chain, const float *from, const float *goal, float *a, float *b)
{
    memcpy(ring_next(&chain->ring[0]), b, DSP_CELL * sizeof *b);
    for (uint32_t s = 0; s < PLATE_STEPS; ++s) {
        PlateRing *ring = &chain->ring[s];
        ring_advance(ring);
        const float *late = ring_run(ring, chain->delay[s] + DSP_CELL);
        float *next = s + 1 < PLATE_STEPS ? ring_next(ring + 1) : b;
        if (from == goal)
            double_echoes(late, goal[s], goal[s], false, a, next);
        else
            double_echoes(late, from[s], goal[s], true, a, next);
    }
}
