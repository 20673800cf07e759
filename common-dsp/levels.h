/* How loud a take is, for a compressor: what its detector has read since learning began, kept as counts and energies
 * over level, so that hours fit in the same memory and no moment weighs more than another.
 *
 * What a detector reads depends on its attack and release, and both may change when all has been heard. So frames of 50
 * ms are read at LEVELS_SPEEDS pairs of them at once (levels_attack x levels_release), and a figure for any other pair
 * is interpolated over the attack and over the logarithm of the release, along which it was found to go most evenly;
 * beyond the outermost times the outermost hold.
 *
 * Two things are kept. For the threshold: how many voiced frames have which mean level. For the makeup: blocks of 400
 * ms every 100 ms by their K-weighted energy, as ITU-R BS.1770 gates them, and inside each row of blocks the frames'
 * energy by detector level: so the gated loudness of what comes out can be computed for any static curve.
 *
 * Levels are in dB; those outside LEVELS_LOW..LEVELS_HIGH count as the nearer end. */
#ifndef LINCTUS_LEVELS_H
#define LINCTUS_LEVELS_H

#include "curve.h"
#include "even_loudness.h"

#include <stdint.h>

enum {
    LEVELS_LOW = -60,
    LEVELS_HIGH = 10,
    LEVELS_BINS = 2 * (LEVELS_HIGH - LEVELS_LOW) + 1, /* of the counts: every 0.5 dB; */
    LEVELS_PARTS = 16,                                /* of a frame, which is shared out over the two nearest */
    LEVELS_ATTACKS = 3,
    LEVELS_RELEASES = 3,
    LEVELS_SPEEDS = LEVELS_ATTACKS * LEVELS_RELEASES,
    LEVELS_ENOUGH = 20, /* voiced frames: with fewer, the figures are not to be used */

    LEVELS_BLOCK = 8,        /* frames of a block */
    LEVELS_STEP = EVEN_STEP, /* dB from one row to the next, and from one `over` to the next */
    LEVELS_ROWS = EVEN_ROWS, /* rows, counts and sums are those of even_loudness.h */
    LEVELS_ROW_LOW = EVEN_ROW_LOW,
    LEVELS_FINE = EVEN_FINE,
    LEVELS_OVERS = 12,    /* of a row: by how much the detector reads more than the row's middle; */
    LEVELS_OVER_LOW = -9, /* dB; each frame is shared out over the two nearest */
    LEVELS_UNITS = 1024,  /* of energy: a block in the middle of its row */

    LEVELS_MOST = 65535, /* frames or blocks in a count; LEVELS_MOST * 256 units: then everything is halved */
    LEVELS_GAINS = LEVELS_ROWS + LEVELS_OVERS - 1,
};

extern const double levels_attack[LEVELS_ATTACKS];   /* seconds */
extern const double levels_release[LEVELS_RELEASES]; /* seconds */

/* Speed a * LEVELS_RELEASES + r reads with levels_attack[a] and levels_release[r]. */
typedef struct {
    uint32_t frames;                            /* voiced ones, halvings included */
    uint32_t count[LEVELS_SPEEDS][LEVELS_BINS]; /* parts of voiced frames */
    uint32_t blocks[LEVELS_FINE];
    uint32_t energy[LEVELS_SPEEDS][LEVELS_ROWS][LEVELS_OVERS];
} Levels;

/* 50 ms, as every speed reads them. */
typedef struct {
    double level[LEVELS_SPEEDS];   /* mean over the frame */
    double weighed[LEVELS_SPEEDS]; /* mean weighed by K-weighted energy */
    double energy;                 /* mean square after K weighting, summed over the channels */
} LevelsFrame;

void levels_clear(Levels *l); /* nothing was heard */

/* Voiced frames in the counts, for who restores these. */
uint32_t levels_frames(const Levels *l);

/* A voiced frame. */
void levels_add_voice(Levels *l, const LevelsFrame *frame);

/* The last 400 ms, voiced or not, in order. */
void levels_add_block(Levels *l, const LevelsFrame *const frame[LEVELS_BLOCK]);

/* The four pairs of times around an attack and a release, in seconds, and how much each weighs; the weights sum to 1.
 */
typedef struct {
    uint32_t speed[4];
    double weight[4];
} LevelsMix;

/* In seconds, held within the range of the tables. */
LevelsMix levels_mix(double attack, double release);

/* How loud the loudest quarter of voiced frames is: the mean level, dB, of its middle half. That moves with the take; a
 * single frame's level would move by steps, where levels lie far apart. frames > 0. */
double levels_loud(const Levels *l, uint32_t speed);

/* The makeup is worked out in steps, so that the work can be spread. First the gains of a curve: */
void levels_gains(const Curve *curve, double gain[LEVELS_GAINS]);

/* then, for each speed by its weight, the energies of each row; */
typedef EvenSums LevelsSums;

void levels_sum(const Levels *l, uint32_t speed, double weight, const double gain[LEVELS_GAINS], LevelsSums *sums);

/* and last the makeup (even_loudness.h): dB on the compressed signal that keep the gated loudness of what went in, when
 * `blend` (0..1) of it comes out beside 1 - blend of the input. 0 or more; 0 while nothing was heard. */
double levels_makeup(const Levels *l, const LevelsSums *sums, double blend);

#endif
