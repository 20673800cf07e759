/* Inside hum_track.h: the curve of the fundamental, drawn through all windows of a take from the rests outwards. */
#ifndef LINCTUS_HUM_TRACK_CURVE_H
#define LINCTUS_HUM_TRACK_CURVE_H

#include "hum_track.h"

/* Starts from a first curve (hum_track_links.h) and finds the smoothest that goes where the harmonics say, and the
 * harmonics' shapes with it. Overwrites `work`. */
void track_follow(HumTrack *t);

/* Sets `told` of every block: false in stretches from rest to rest in which the curve goes astray. Where nothing comes
 * in, nothing disagrees. Returns whether a quarter of the take or more is told. */
bool track_tells(HumTrack *t);

#endif
