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
    PLATE_STEPS_ROOM = (PLATE_STEPS + FOUR - 1) / FOUR * FOUR, /* rounded up to whole vectors */
};

typedef struct {
    uint32_t delay[PLATE_STEPS];                             /* samples */
    uint32_t next[PLATE_STEPS_ROOM], late[PLATE_STEPS_ROOM]; /* places in the ring: of the next cell; of the delayed */
} PlateChain;

/* Adds the chain's delay lines to the ring, which has no memory yet. seconds: the delay of each step; rounded to whole
 * samples, 1 or more. */
void plate_chain_place(PlateChain *chain, PlateRing *ring, const double *seconds, double rate);

/* Sets y[PLATE_STEPS], the fade of each step. per_sample: natural logarithm of the amplitude left after a delay of one
 * sample, below 0. Returns the chain's gain of power, including 1/sqrt 2 of amplitude for each step. */
double plate_chain_tune(const PlateChain *chain, double per_sample, float *y);

/* Runs a cell of both channels; out may be in. from, goal: y of each step at the cell's beginning and end; the same
 * pointer where the tuning rests. */
void plate_chain_run(const PlateChain *chain, const PlateRing *ring, const float *from, const float *goal,
                     const float *const in[2], float *const out[2]);

#endif
