/* Inside hum_track.h: the curve of the fundamental, drawn through all windows of a take from the rests outwards. */
#ifndef LINCTUS_HUM_TRACK_CURVE_H
#define LINCTUS_HUM_TRACK_CURVE_H

#include "hum_track.h"

/* From a first curve (hum_track_links.h) to the smoothest that goes where the harmonics say, and their shapes with it.
 * Uses up `work`. */
void track_follow(HumTrack *t);

/* Is there no stretch of the take in which the curve goes astray? Where nothing comes in, nothing disagrees. */
bool track_agrees(const HumTrack *t);

#endif
