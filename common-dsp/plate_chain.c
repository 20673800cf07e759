#include "plate_chain.h"

#include "plate_loops.h"

#include <math.h>

void plate_chain_place(PlateChain *chain, PlateRing *ring, const double *seconds, double rate)
{
    *chain = (PlateChain){0};
    for (uint32_t s = 0; s < PLATE_STEPS; ++s) {
        chain->delay[s] = (uint32_t)fmax(1.0, round(seconds[s] * rate));
        chain->next[s] = ring_add(ring, chain->delay[s]);
        chain->late[s] = chain->next[s] - chain->delay[s];
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

void plate_chain_run(const PlateChain *chain, const PlateRing *ring, const float *from, const float *goal,
                     const float *const in[2], float *const out[2])
{
    uint32_t next[PLATE_STEPS_ROOM], late[PLATE_STEPS_ROOM];
    ring_places(ring, chain->next, next, PLATE_STEPS_ROOM);
    ring_places(ring, chain->late, late, PLATE_STEPS_ROOM);
    plate_loops()->echoes(ring, next, late, from, goal, in, out);
}
