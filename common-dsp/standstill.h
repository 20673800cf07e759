/* Standstill: makes time stand still in digital silence, for processors that listen in frames. It passes a whole number
 * of frames of each silence, rounded down, up to 0.6 s. So the sound after a silence falls on the same frame boundaries
 * however long the silence is, and what is heard of it is the same to the bit. Before the first sound it passes
 * nothing.
 *
 * Silence is a run of samples of exactly 0 that is longer than a hole left by damage (bridge.h); the level of the take
 * does not matter. Its length is known only when it ends, so the output is a frame late. Method ours. */
#ifndef LINCTUS_STANDSTILL_H
#define LINCTUS_STANDSTILL_H

#include "dsp.h"

typedef struct {
    float *ring;              /* a frame of samples */
    uint32_t frame, at, held; /* samples in a frame; where the next one goes in the ring; how many wait there */
    uint32_t least, most;     /* samples: the longest hole; the most that pass of one silence */
    uint32_t zeros;           /* zero samples in a row so far, counted up to `most` */
} Standstill;

/* frame: samples, 1 or more. rate: Hz. Allocates; false: no memory. */
bool standstill_init(Standstill *s, double rate, uint32_t frame);
void standstill_done(Standstill *s); /* safe on a zeroed struct */

/* Back to the state before the first sound. */
void standstill_reset(Standstill *s);

/* Takes in n samples and puts out those that pass. Returns how many, n at most. in and out may be the same. */
uint32_t standstill_process(Standstill *s, const float *in, float *out, uint32_t n);

#endif
