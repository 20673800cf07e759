/* Standstill: lets time stand still in digital silence, for processors that listen in frames. A silence comes through
 * in whole frames, rounded down, and 0.6 s of it at most. So what is heard after a silence lies on the same frames
 * whatever the silence's length, and is the same to the bit. Before the first sound nothing comes through.
 *
 * Silence is a run of samples of exactly 0, at any level of the take, that is too long to be a hole of damage
 * (bridge.h). How long it is shows at its end alone, so the output is a frame late. Method ours. */
#ifndef LINCTUS_STANDSTILL_H
#define LINCTUS_STANDSTILL_H

#include "dsp.h"

typedef struct {
    float *ring;              /* a frame of samples */
    uint32_t frame, at, held; /* samples of a frame; place of the next one in the ring; how many wait there */
    uint32_t least, most;     /* samples: longest hole; of a silence that come through */
    uint32_t zeros;           /* in a row up to now, at most `most` */
} Standstill;

/* frame: samples, 1 or more. rate: Hz. Allocates; false: no memory. */
bool standstill_init(Standstill *s, double rate, uint32_t frame);
void standstill_done(Standstill *s); /* safe on a zeroed struct */

/* Before the first sound. */
void standstill_reset(Standstill *s);

/* Takes in n samples. Returns how many came out, n at most. in and out may be the same. */
uint32_t standstill_process(Standstill *s, const float *in, float *out, uint32_t n);

#endif
