/* Inside hum_track.h: how every harmonic of a hum is made up, by what is heard of it in the rests. */
#ifndef LINCTUS_HUM_TRACK_SHAPE_H
#define LINCTUS_HUM_TRACK_SHAPE_H

#include "hum_track.h"

/* Harmonic k of channel c: its shape over all rests, and its noise. Uses up `work`. */
void track_find_shape(HumTrack *t, uint32_t c, uint32_t k);

/* The same, as it wanders from rest to rest: `hum` of every block. Uses up `work`. */
void track_wander(HumTrack *t, uint32_t c, uint32_t k);

/* Is it a hum, what the rests have in common? */
bool track_explains(const HumTrack *t);

#endif
