/* The pre-delay: whole samples, up to 200 ms; a change cross-fades. */
#ifndef LINCTUS_PLATE_WAIT_H
#define LINCTUS_PLATE_WAIT_H

#include "fade.h"
#include "plate_ring.h"

#define PLATE_WAIT_LONGEST 0.2 /* seconds */

typedef struct {
    uint32_t next[DSP_CHANNELS]; /* place in the ring of each channel's next cell */
    uint32_t from, to, wish;     /* samples */
    Fade fade;
} PlateWait;

/* Places so many channels in the ring, whose memory is not given yet. */
void plate_wait_init(PlateWait *wait, PlateRing *ring, double rate, uint32_t channels);

/* Before each cell, which takes the wish on if nothing fades. at_once: jumps to it. */
void plate_wait_move(PlateWait *wait, bool at_once);

/* A cell of so many channels that was written to their next places in the ring, and what comes out: where it lies, in
 * the ring or in `mixed`. */
void plate_wait_run(PlateWait *wait, const PlateRing *ring, uint32_t channels, float mixed[DSP_CHANNELS][DSP_CELL],
                    const float *out[DSP_CHANNELS]);

#endif
