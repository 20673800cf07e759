/* A gain that is moved so that nobody hears it move: upward slowly, downward quickly, never with a step, a kink or a
 * sudden bend, and at once (within a given time) where it has to get out of a peak's way.
 *
 * A goal in dB is approached at most `rise` dB/s up and `fall` dB/s down; what comes out is that straight-edged path
 * through three running means of equal length, whose sum of lengths is the given time. A running mean of a path that
 * never rises faster than `rise` does not either, and a step is reached exactly when the means have passed it. The
 * means are kept in whole steps of 2^-24 dB, so that they never drift: a gain that rests is exactly its goal, and 0 dB
 * is exactly 1. */
#ifndef LINCTUS_GAIN_MOVE_H
#define LINCTUS_GAIN_MOVE_H

#include "dsp.h"

enum { GAIN_MOVE_LONGEST = 1280 }; /* samples of one running mean */

typedef struct {
    int32_t goal, now, rise, fall; /* steps of 2^-24 dB; rise and fall a sample */
    uint32_t length, at;           /* of each mean; where its oldest sample lies */
    int32_t path[GAIN_MOVE_LONGEST];
    int64_t once[GAIN_MOVE_LONGEST], twice[GAIN_MOVE_LONGEST]; /* running sums of path, of once */
    int64_t sum_once, sum_twice, sum;                          /* sum: of twice */
    uint32_t moving;                                           /* samples until everything rests */
    double gain;                                               /* of the last sample */
} GainMove;

/* rise, fall: dB/s, above 0. seconds: of a cut, end to end; at most 3 * GAIN_MOVE_LONGEST samples. Rests at 0 dB. */
void gain_move_init(GainMove *m, double rate, double rise, double fall, double seconds);

/* Rests at db from the next sample on. All levels: -60..60 dB. */
void gain_move_jump(GainMove *m, double db);

/* Sets out for db. */
void gain_move_to(GainMove *m, double db);

/* If the path lies above db: the gain is at or below db after `seconds`, whatever `fall` says. The goal stays. */
void gain_move_cut(GainMove *m, double db);

/* dB, of the last sample. */
double gain_move_db(const GainMove *m);

void gain_move_advance(GainMove *m);

/* The gain of this sample, as a factor. */
static inline double gain_move_step(GainMove *m)
{
    if (m->moving)
        gain_move_advance(m);
    return m->gain;
}

#endif
