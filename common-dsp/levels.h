/* How loud a voice is, for a compressor: what its detector has read over every voiced frame of a take, kept as counts
 * over level, so that hours fit in the same memory and no frame weighs more than another.
 *
 * What a detector reads depends on its attack and release. So frames are read at LEVELS_SPEEDS pairs of them at once
 * (levels_attack x levels_release), and a figure for any other pair is interpolated over the logarithms of both times;
 * outside the outermost times the outermost hold. Beside the counts lies the K-weighted energy of the frames (ITU-R
 * BS.1770), from which the makeup of any static curve can be computed.
 *
 * Levels are in dB. Levels outside LEVELS_LOW..LEVELS_HIGH count as the nearer end. */
#ifndef LINCTUS_LEVELS_H
#define LINCTUS_LEVELS_H

#include "curve.h"

#include <stdint.h>

enum {
    LEVELS_LOW = -70,
    LEVELS_HIGH = 24,
    LEVELS_BINS = 2 * (LEVELS_HIGH - LEVELS_LOW) + 1, /* of the counts: every 0.5 dB */
    LEVELS_STEPS = LEVELS_HIGH - LEVELS_LOW + 1,      /* of the energies: every 1 dB, each frame shared out over two */
    LEVELS_TIMES = 3,
    LEVELS_SPEEDS = LEVELS_TIMES * LEVELS_TIMES,
    LEVELS_ENOUGH = 20, /* frames: with fewer, the figures are not to be used */
    LEVELS_UNITS = 256, /* units of energy in one, so that sums are exact */
    LEVELS_MOST = 65535 /* most frames, and most energy, in a bin: then everything is halved */
};

extern const double levels_attack[LEVELS_TIMES];  /* seconds */
extern const double levels_release[LEVELS_TIMES]; /* seconds */

/* Speed a * LEVELS_TIMES + r reads with levels_attack[a] and levels_release[r]. */
typedef struct {
    uint32_t frames;                              /* counted, halvings included */
    uint32_t count[LEVELS_SPEEDS][LEVELS_BINS];   /* frames by their mean level */
    uint32_t energy[LEVELS_SPEEDS][LEVELS_STEPS]; /* by their energy-weighted mean level: mean square after K
                                                     weighting, over that level's, in 1/LEVELS_UNITS */
} Levels;

/* One frame, as every speed reads it. */
typedef struct {
    double level[LEVELS_SPEEDS];   /* mean over the frame */
    double weighed[LEVELS_SPEEDS]; /* mean weighed by K-weighted energy */
    double energy;                 /* mean square after K weighting, over all channels */
} LevelsFrame;

void levels_clear(Levels *l);
void levels_add(Levels *l, const LevelsFrame *frame);

/* The middle of the loudest quarter: the level that one frame in eight lies above. frames > 0. */
double levels_loud(const Levels *l, uint32_t speed);

/* dB of makeup on the compressed signal that keep the gated loudness of what went in, when `blend` (0..1) is the share
 * of the compressed signal in what comes out. Loudness is gated as in BS.1770 (10 LU below the mean), over levels
 * instead of blocks. 0 or more; 0 for a curve that does nothing. frames > 0. */
double levels_makeup(const Levels *l, uint32_t speed, const Curve *curve, double blend);

/* The four speeds around an attack and a release, in seconds, and how much each weighs; the weights sum to 1. */
typedef struct {
    uint32_t speed[4];
    double weight[4];
} LevelsMix;

LevelsMix levels_mix(double attack, double release);

#endif
