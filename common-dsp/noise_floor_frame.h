/* One frame of Floor: the noise in its spectrum is tracked and turned down, band by band. A part of noise_floor.c. */
#ifndef LINCTUS_NOISE_FLOOR_FRAME_H
#define LINCTUS_NOISE_FLOOR_FRAME_H

#include "noise_floor.h"

/* Whether a band's noise may be turned down: on hold, only one that was learned. */
static inline bool floor_knows(const NoiseFloor *f, uint32_t band)
{
    return f->track.band[band].known && (f->params.learn || f->memory.level[band] != NOISE_NONE);
}

/* The number of steps of a frame's work: the channels' analyses, the pieces, the channels' syntheses. */
uint32_t floor_frame_steps(const NoiseFloor *f);

/* Does step 0..floor_frame_steps() - 1 of it; all of them in order, once for each frame. */
void floor_frame_step(NoiseFloor *f, uint32_t step);

#endif
