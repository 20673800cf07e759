/* The low cut before the tank: a second-order section in double, in the state-space form of plate_loss.h, for one or
 * two channels. */
#ifndef LINCTUS_PLATE_CUT_H
#define LINCTUS_PLATE_CUT_H

#include "sos.h"

/* v = x - second; out = direct x + (by_first first + by_second second)
 * first' = keep first + lift v; second' = (second + lift first) + rise v */
typedef struct {
    double direct, by_first, by_second, keep, lift, rise;
} PlateCut;

PlateCut plate_cut_from(const Biquad *section);

/* A cell; out may be in. from, goal: the section at its ends. */
void plate_cut_run(const PlateCut *from, const PlateCut *goal, SvfState *state, const float *in, float *out);

#endif
