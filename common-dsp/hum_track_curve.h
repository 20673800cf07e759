/* Inside hum_track.h: the curve of the fundamental, drawn through all windows of a take from the rests outwards. */
#ifndef LINCTUS_HUM_TRACK_CURVE_H
#define LINCTUS_HUM_TRACK_CURVE_H

#include "hum_track.h"

/* From a first curve (hum_track_links.h) to the smoothest that goes where the harmonics say, and their shapes with it.
 * Uses up `work`. */
void track_follow(HumTrack *t);

/* Which stretches from rest to rest the curve does not go astray in: `told` of every block. Where nothing comes in,
 * nothing disagrees. Is it a quarter of the take at least? */
bool track_tells(HumTrack *t);

#endif
