#include "plate_chain.h"

#include "plate_loops.h"

#include <math.h>

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

/* Each step writes its b where the next one keeps it. */
void plate_chain_run(PlateChain *chain, const float *from, const float *goal, float *a, float *b)
{
    const PlateLoops *loops = plate_loops();
    memcpy(ring_next(&chain->ring[0]), b, DSP_CELL * sizeof *b);
    for (uint32_t s = 0; s < PLATE_STEPS; ++s) {
        PlateRing *ring = &chain->ring[s];
        ring_advance(ring);
        const float *late = ring_run(ring, chain->delay[s] + DSP_CELL);
        float *next = s + 1 < PLATE_STEPS ? ring_next(ring + 1) : b;
        loops->echoes(late, from[s], goal[s], a, next);
    }
}
