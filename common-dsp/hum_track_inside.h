/* Inside hum_track.h: what its parts share. */
#ifndef LINCTUS_HUM_TRACK_INSIDE_H
#define LINCTUS_HUM_TRACK_INSIDE_H

#include "hum_pair.h"
#include "hum_track.h"
#include "smoothest.h"

/* Set by trial over the voices for tuning. */
#define TRACK_OVERLAP 4.0 /* measurements that share their blocks */

enum {
    TRACK_SPAN = 7, /* blocks of a window */
    TRACK_REST = 6, /* blocks of a rest at least */
    TRACK_FEW = 3,  /* harmonics that tell where the curve is not known yet */
    TRACK_ROWS = SMOOTHEST_ORDER + 2,
};

/* A row of `work`. */
static inline double *track_row(const HumTrack *t, uint32_t i)
{
    return t->work + (size_t)i * t->blocks;
}

/* The middle of a window, in points. */
static inline double track_middle(const HumTrack *t, uint32_t b)
{
    return (double)b * t->length + 0.5 * (TRACK_SPAN * t->length - 1.0);
}

#endif
