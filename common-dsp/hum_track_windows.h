/* Inside hum_track.h: what is heard of the harmonics in every window of a take. */
#ifndef LINCTUS_HUM_TRACK_WINDOWS_H
#define LINCTUS_HUM_TRACK_WINDOWS_H

#include "hum_track.h"

/* Each window under a Hann window, beside a reference that turns as the curve does in its middle: `heard` of every
 * block. Uses up `work`. */
void track_hear(HumTrack *t);

/* Mean power of n points from `from` on, all channels together. */
double track_power(const HumTrack *t, uint32_t from, uint32_t n);

#endif
