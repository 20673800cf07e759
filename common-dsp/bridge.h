/* Bridge: what listens is not to hear the holes that damage leaves. A damaged sample has become 0 (dsp.h), which in the
 * middle of a vowel is a click: it lifts the weak harmonics of every window that it falls into. Here a hole, samples of
 * exactly 0 in a row for up to BRIDGE_SECONDS, becomes a straight line from the sample before it to the one after; a
 * longer one is silence and stays. All else passes to the bit.
 *
 * The line has to wait for its end: what comes out is bridge_lag() samples behind what went in, and the last ones never
 * come. For listening alone, never for what is put out. Method ours. */
#ifndef LINCTUS_BRIDGE_H
#define LINCTUS_BRIDGE_H

#include "dsp.h"

#define BRIDGE_SECONDS 0.001

enum { BRIDGE_RING = 385 }; /* samples: one more than the longest hole at DSP_RATE_MAX */

typedef struct {
    float ring[BRIDGE_RING];
    uint32_t most, at; /* the longest hole; where the next sample goes: what stands there comes out first */
    uint32_t held;     /* samples in the ring */
    uint32_t hole;     /* samples of 0 up to now, at most one more than `most` */
    float before;      /* the last sample that was none */
} Bridge;

/* Allocates nothing. rate: DSP_RATE_MIN..DSP_RATE_MAX */
void bridge_init(Bridge *b, double rate);

/* Nothing was heard. */
void bridge_reset(Bridge *b);

/* Samples that it holds back. */
uint32_t bridge_lag(const Bridge *b);

/* Takes the next n samples, any n, and puts out as many, but for the first ones after a reset: how many came out. in
 * and out may be the same. */
uint32_t bridge_process(Bridge *b, const float *in, float *out, uint32_t n);

#endif
