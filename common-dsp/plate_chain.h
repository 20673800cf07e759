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

enum {
    PLATE_STEPS = 7,
    PLATE_STEPS_ROOM = (PLATE_STEPS + FOUR - 1) / FOUR * FOUR, /* whole fours */
};

typedef struct {
    uint32_t delay[PLATE_STEPS];                             /* samples */
    uint32_t next[PLATE_STEPS_ROOM], late[PLATE_STEPS_ROOM]; /* places in the ring: of the next cell, of what is due */
} PlateChain;

/* Rounds the delays, at least 1 sample, and places them in the ring, whose memory is not given yet. */
void plate_chain_place(PlateChain *chain, PlateRing *ring, const double *seconds, double rate);

/* y: the fade of each step. per_sample: logarithm of what a sample's delay leaves of an amplitude, below 0. Returns
 * what the chain leaves of a power, the steps' 1/sqrt 2 counted in. */
double plate_chain_tune(const PlateChain *chain, double per_sample, float *y);

/* A cell of both channels; out may be in. from, goal: y of each step at the cell's ends; the same pointer where it
 * rests. */
void plate_chain_run(const PlateChain *chain, const PlateRing *ring, const float *from, const float *goal,
                     const float *const in[2], float *const out[2]);

#endif
