/* A gain that is moved so that nobody hears it move: upward slowly, downward quickly, never with a step, a kink or a
 * sudden bend.
 *
 * A goal in dB is approached at most `rise` dB/s up and `fall` dB/s down; what comes out is that straight-edged path
 * through three running means (triple_mean.h). Levels are kept in whole steps of 2^-24 dB: a gain that rests is exactly
 * its goal, and 0 dB is exactly 1. */
#ifndef LINCTUS_GAIN_MOVE_H
#define LINCTUS_GAIN_MOVE_H

#include "triple_mean.h"

typedef struct {
    int32_t goal, now, rise, fall; /* steps of 2^-24 dB; rise and fall a sample */
    TripleMean mean;
    int64_t sum;     /* of the mean */
    uint32_t moving; /* samples until everything rests */
    double gain;     /* of the last sample */
} GainMove;

/* rise, fall: dB/s, above 0. seconds: of the three means together; at most 3 * TRIPLE_MEAN_LONGEST samples. Rests at 0
 * dB. Allocates; false: no memory. */
bool gain_move_init(GainMove *m, double rate, double rise, double fall, double seconds);

/* Safe on a zeroed struct. */
void gain_move_done(GainMove *m);

/* Rests at db from the next sample on. All levels: -60..60 dB. */
void gain_move_jump(GainMove *m, double db);

/* Sets out for db, at `rise` or `fall`, from wherever it is. */
void gain_move_to(GainMove *m, double db);

/* dB, of the last sample. */
double gain_move_db(const GainMove *m);

/* dB, where it is bound for. */
double gain_move_goal(const GainMove *m);

/* What gain_move_step() does while anything moves. */
void gain_move_advance(GainMove *m);

/* The gain of this sample, as a factor. */
static inline double gain_move_step(GainMove *m)
{
    if (m->moving)
        gain_move_advance(m);
    return m->gain;
}

#endif
