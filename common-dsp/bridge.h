/* Bridge: fills the holes that damage leaves, so that analysis does not hear them. A damaged sample has become 0
 * (dsp.h), which in the middle of a vowel is a click: it lifts the weak harmonics of every window that it falls into.
 * A hole is a run of samples of exactly 0, up to BRIDGE_SECONDS long. It becomes a straight line from the sample before
 * it to the one after. A longer run is silence and stays; all else passes to the bit.
 *
 * A line is known only when its end has come, so the output is the longest hole and one sample behind the input, and
 * the last samples never come out. For listening alone, never for what is put out. The method is ours. */
#ifndef LINCTUS_BRIDGE_H
#define LINCTUS_BRIDGE_H

#include "dsp.h"

#define BRIDGE_SECONDS 0.001 /* s: the longest hole */

enum { BRIDGE_RING = 385 }; /* samples: one more than the longest hole at DSP_RATE_MAX */

typedef struct {
    float ring[BRIDGE_RING];
    uint32_t most, at; /* samples of the longest hole; place of the next sample, whose old content comes out first */
    uint32_t held;     /* samples in the ring */
    uint32_t hole;     /* samples of 0 up to now, at most one more than `most` */
    float before;      /* the last sample that was not 0 */
} Bridge;

/* Allocates nothing. rate: DSP_RATE_MIN..DSP_RATE_MAX */
void bridge_init(Bridge *b, double rate);

/* Nothing was heard. */
void bridge_reset(Bridge *b);

/* Takes the next n samples, any n, and puts out as many, but fewer at first after a reset. Returns how many came out.
 * in and out may be the same. */
uint32_t bridge_process(Bridge *b, const float *in, float *out, uint32_t n);

#endif
