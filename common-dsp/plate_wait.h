/* The pre-delay: whole samples, up to 200 ms; a change cross-fades. */
#ifndef LINCTUS_PLATE_WAIT_H
#define LINCTUS_PLATE_WAIT_H

#include "fade.h"
#include "plate_ring.h"

#define PLATE_WAIT_LONGEST 0.2 /* seconds */

typedef struct {
    PlateRing ring[DSP_CHANNELS];
    uint32_t from, to, wish; /* samples */
    Fade fade;
} PlateWait;

/* Sizes the rings of so many channels, whose memory is not given yet. */
void plate_wait_init(PlateWait *wait, double rate, uint32_t channels);

/* Before each cell, which takes the wish on if nothing fades. at_once: jumps to it. */
void plate_wait_move(PlateWait *wait, bool at_once);

/* A cell of so many channels that was written to ring_next() of their rings, and what comes out. */
void plate_wait_run(PlateWait *wait, uint32_t channels, float out[DSP_CHANNELS][DSP_CELL]);

#endif
