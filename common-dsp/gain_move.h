/* A gain that moves inaudibly: slowly up, quickly down, and never with a step, a kink or a sudden bend.
 *
 * It approaches a goal in dB by at most `rise` dB/s up and `fall` dB/s down, and three running means (triple_mean.h)
 * smooth that path. Levels are kept in whole steps of 2^-24 dB, so that a gain at rest is exactly its goal and 0 dB is
 * exactly 1. */
#ifndef LINCTUS_GAIN_MOVE_H
#define LINCTUS_GAIN_MOVE_H

#include "triple_mean.h"

typedef struct {
    int32_t goal, now, rise, fall; /* steps of 2^-24 dB; rise and fall: steps per sample */
    TripleMean mean;
    int64_t sum;     /* output of the triple mean, before division by its weight */
    uint32_t moving; /* samples until the gain is at rest */
    double gain;     /* of the last sample, as a factor */
} GainMove;

/* rise, fall: dB/s, above 0. seconds: length of the three means together, held to 3 * TRIPLE_MEAN_LONGEST samples.
 * Starts at rest at 0 dB. Allocates; false: no memory. */
bool gain_move_init(GainMove *m, double rate, double rise, double fall, double seconds);

/* Safe on a zeroed struct. */
void gain_move_done(GainMove *m);

/* Jumps to db, where the gain rests from the next sample on. All levels are held to -60..60 dB. */
void gain_move_jump(GainMove *m, double db);

/* Starts moving to db, at `rise` or `fall`, from where the gain is now. */
void gain_move_to(GainMove *m, double db);

/* The gain of the last sample, dB. */
double gain_move_db(const GainMove *m);

/* The goal, dB. */
double gain_move_goal(const GainMove *m);

/* The part of gain_move_step() that runs while the gain moves; not for other callers. */
void gain_move_advance(GainMove *m);

/* The gain of this sample, as a factor. */
static inline double gain_move_step(GainMove *m)
{
    if (m->moving)
        gain_move_advance(m);
    return m->gain;
}

#endif
