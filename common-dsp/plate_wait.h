/* The pre-delay: whole samples, up to 200 ms; a change cross-fades. */
#ifndef LINCTUS_PLATE_WAIT_H
#define LINCTUS_PLATE_WAIT_H

#include "fade.h"
#include "plate_ring.h"

#define PLATE_WAIT_LONGEST 0.2 /* s, longest pre-delay */

typedef struct {
    uint32_t next[DSP_CHANNELS]; /* place in the ring of each channel's next cell */
    uint32_t from, to, wish;     /* samples: pre-delays of the cross-fade; the one asked for */
    Fade fade;
} PlateWait;

/* Adds a delay line for each channel to the ring, which has no memory yet. */
void plate_wait_init(PlateWait *wait, PlateRing *ring, double rate, uint32_t channels);

/* To be called before each cell: starts a fade to the wish unless one is going on. at_once: jumps to the wish. */
void plate_wait_move(PlateWait *wait, bool at_once);

/* Delays a cell of each channel, which the caller has written to its next place in the ring. out: set to the delayed
 * cells, in the ring or in `mixed`. */
void plate_wait_run(PlateWait *wait, const PlateRing *ring, uint32_t channels, float mixed[DSP_CHANNELS][DSP_CELL],
                    const float *out[DSP_CHANNELS]);

#endif
