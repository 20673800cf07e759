/* Which of Tone's moves bring one average spectrum nearest to another: a low cut, three dips, an air lift. Dips only
 * cut and the air only lifts; the level is free, so what has to come up may come up by all else going down.
 *
 * The fit is of least squares in dB over points of equal weight, with the curves of the analog prototypes that Tone
 * follows (design.h). Moves are added one after the other, each time the one of a grid that helps most; after each, all
 * figures are moved together in steps that are halved until none helps; at the end each dip is looked for once more
 * among the others. The same figures give the same moves. The method is this project's own. */
#ifndef LINCTUS_HARNESS_LIKE_FIT_H
#define LINCTUS_HARNESS_LIKE_FIT_H

#include "tone_even.h"

#include <stdbool.h>

enum { LIKE_FIT_POINTS = 64 };

#define LIKE_FIT_LEAST_WIDTH 0.5 /* octaves: what is narrower belongs to the words, not to the sound */

typedef struct {
    uint32_t points;            /* at most LIKE_FIT_POINTS */
    double hz[LIKE_FIT_POINTS]; /* rising */
    double db[LIKE_FIT_POINTS]; /* what has to be added there; the level does not matter */
} LikeFit;

/* The moves, within the ranges of Tone's controls. What is not used is off: order 0, depths and lift 0. */
ToneCurve like_fit(const LikeFit *wanted);

/* dB at a frequency. */
double like_fit_curve(const ToneCurve *curve, double hz);

/* dB, rms: what is left of it after the moves, level apart. No points: 0. */
double like_fit_left(const LikeFit *wanted, const ToneCurve *curve);

#endif
