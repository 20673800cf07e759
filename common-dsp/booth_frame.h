/* One frame of Booth: its late sound is turned down, and what it tells of the room and of the loudness is learned. A
 * part of booth.c. */
#ifndef LINCTUS_BOOTH_FRAME_H
#define LINCTUS_BOOTH_FRAME_H

#include "booth.h"

/* What the memory tells of the room, and what follows from it: two steps, as each of them takes long. In booth.c. */
void booth_know_room(Booth *b);
void booth_use_room(Booth *b);

static inline bool booth_is_sure(const Booth *b)
{
    return b->known.sure > 0.0;
}

/* A frame's work, in order: the channels' analyses, the pieces, learning, the channels' syntheses; in steps. */
uint32_t booth_frame_work(const Booth *b);

/* Does step 0..booth_frame_work() - 1 of it; all of them in order, once for each frame. */
void booth_frame_step(Booth *b, uint32_t step);

/* Once a cell: goes on with what the last falls tell of late sound. Where all bands fall at once, their searches
 * together take ten times as long as the rest of a block. */
void booth_frame_search(Booth *b);

#endif
