/* Inside hum_track.h: how the fundamental turned from rest to rest. */
#ifndef LINCTUS_HUM_TRACK_LINKS_H
#define LINCTUS_HUM_TRACK_LINKS_H

#include "hum_track.h"

/* Where each rest stands, from the longest on to both sides; those that do not agree with the others are not linked.
 * There is one rest at least. The shape becomes the sum of those that are linked. */
void track_link_rests(HumTrack *t);

/* A first curve, through the rests that are linked: straight on before the first and after the last. How far every
 * block is away from a rest. */
void track_draw_curve(HumTrack *t);

#endif
