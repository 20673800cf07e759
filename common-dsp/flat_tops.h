/* Finds flat tops: swings of a wave that end in a level stretch with a corner at either side, as a stage that clips
 * leaves them, at whatever level they lie now. A resampler or a codec rounds the corners and puts a ripple on the
 * stretch, and they are found all the same.
 *
 * A top is the highest point of a swing that comes within FLAT_TOPS_NEAR of the highest ones of its polarity of late
 * and over FLAT_TOPS_LEAST: a single peak that goes far over the others does not count among those. It is flat if the
 * wave stays within 2 % of it for more than 2.5 samples, and takes less than 0.15 times as long through the 2 % under
 * that. A round top takes 0.41 times as long, whatever its pitch, as both go with the root of the depth; so does one
 * that a limiter turned down, since its gain does not follow the wave. Method ours. */
#ifndef LINCTUS_FLAT_TOPS_H
#define LINCTUS_FLAT_TOPS_H

#include "dsp.h"

enum {
    FLAT_TOPS_LONGEST = 256, /* samples, 5 ms at 48 kHz: a longer swing is not looked at */
    FLAT_TOPS_KEPT = 32,     /* tops that wait to be taken, at most; more are lost */
};

#define FLAT_TOPS_NEAR  0.75f /* of the highest top */
#define FLAT_TOPS_LEAST 0.04f /* -28 dBFS: far under it the steps of 16 bit would look like flat tops */

typedef struct {
    float level; /* its magnitude */
    bool flat;
} FlatTop;

/* One channel. Zero it to reset. */
typedef struct {
    float swing[FLAT_TOPS_LONGEST]; /* the swing under way, turned to go up, and the sample before it */
    uint32_t n;                     /* samples of it; 0: none is under way; FLAT_TOPS_LONGEST: it is too long */
    float most;                     /* the highest of them, however many came */
    bool down;                      /* it goes down */
    float last;                     /* the last sample */
    float highest[2];               /* of the tops that go up, and of those that go down: it follows them */
    uint32_t since;                 /* samples since it fell by a step */
    FlatTop top[FLAT_TOPS_KEPT];    /* those that came since they were taken last */
    uint32_t tops;                  /* of them; whoever takes them sets it to 0 */
} FlatTops;

/* Hears n samples of a channel. A top is known once its swing is over. */
void flat_tops_hear(FlatTops *f, const float *in, uint32_t n);

#endif
