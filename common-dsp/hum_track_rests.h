/* Inside hum_track.h: the rests of a take, in which a hum is heard by itself. */
#ifndef LINCTUS_HUM_TRACK_RESTS_H
#define LINCTUS_HUM_TRACK_RESTS_H

#include "hum_track.h"

/* Of every block its power, and whether it is quiet or silent beside a hum of this power. Uses up `work`. */
void track_find_quiet(HumTrack *t, double hum);

/* Stretches of quiet blocks: how quickly each turns, what its windows have in common. Wants `heard`. */
void track_find_rests(HumTrack *t);

/* What a rest's windows have in common, turned back by its speed. */
void track_rest_mean(const HumTrack *t, HumTrackRest *r);

#endif
