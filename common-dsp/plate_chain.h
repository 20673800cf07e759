/* A chain of steps that doubles the echoes with each step, in two channels a and b. A step of delay d:
 *
 *     w = y(d) b[t - d];  (a, b) <- (a + w, a - w)
 *
 * Golay's complementary series (1961), made into a multichannel reverberator by Gerzon (1976); both from memory.
 * Without the fade y the two channels together hold twice the power that went in, at every frequency: no colour. No
 * feedback, so a delay may be shorter than a cell. */
#ifndef LINCTUS_PLATE_CHAIN_H
#define LINCTUS_PLATE_CHAIN_H

#include "plate_ring.h"

enum { PLATE_STEPS = 7 };

typedef struct {
    uint32_t delay[PLATE_STEPS]; /* samples */
    PlateRing ring[PLATE_STEPS];
} PlateChain;

/* Rounds the delays, at least 1 sample, and sizes the rings, whose memory is not given yet. */
void plate_chain_place(PlateChain *chain, const double *seconds, double rate);

/* y: the fade of each step. per_sample: logarithm of what a sample's delay leaves of an amplitude, below 0. Returns
 * what the chain leaves of a power, the steps' 1/sqrt 2 counted in. */
double plate_chain_tune(const PlateChain *chain, double per_sample, float *y);

/* A cell of both channels, in place. from, goal: y of each step at the cell's ends; the same pointer where it
 * rests. */
void plate_chain_run(PlateChain *chain, const float *from, const float *goal, float *a, float *b);

#endif
