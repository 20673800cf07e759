/* How loud a take is, for a compressor: its detector's readings since learning began, kept as counts and energies by
 * level, so that hours fit in the same memory and no moment weighs more than another.
 *
 * A detector's readings depend on its attack and release, and both may still change when the take is over. So frames of
 * 50 ms are read with LEVELS_SPEEDS pairs of times at once (levels_attack x levels_release), and the figure for any
 * other pair is interpolated: linearly over attack and over the logarithm of release, where it was found to run
 * straightest. Times outside the tables are held to their ends.
 *
 * For the threshold, voiced frames are counted by mean level. For the makeup, blocks of 400 ms every 100 ms are counted
 * in rows by their K-weighted energy, as ITU-R BS.1770 gates them, and in each row the frames' energy by detector
 * level. From these the gated loudness of the output follows for any static curve.
 *
 * Levels are in dB; those outside LEVELS_LOW..LEVELS_HIGH count as the nearer end. */
#ifndef LINCTUS_LEVELS_H
#define LINCTUS_LEVELS_H

#include "curve.h"
#include "even_loudness.h"

#include <stdint.h>

enum {
    LEVELS_LOW = -60,                                 /* dB, lowest level counted */
    LEVELS_HIGH = 10,                                 /* dB, highest level counted */
    LEVELS_BINS = 2 * (LEVELS_HIGH - LEVELS_LOW) + 1, /* bins of voiced frames by level, one every 0.5 dB */
    LEVELS_PARTS = 16,                                /* parts of a frame, shared between the two nearest bins */
    LEVELS_ATTACKS = 3,
    LEVELS_RELEASES = 3,
    LEVELS_SPEEDS = LEVELS_ATTACKS * LEVELS_RELEASES,
    LEVELS_ENOUGH = 20, /* voiced frames: with fewer, the figures are not to be used */

    LEVELS_BLOCK = 8,        /* frames in a block */
    LEVELS_STEP = EVEN_STEP, /* dB from one row to the next, and from one column to the next */
    LEVELS_ROWS = EVEN_ROWS, /* rows, counts and sums are those of even_loudness.h */
    LEVELS_ROW_LOW = EVEN_ROW_LOW,
    LEVELS_FINE = EVEN_FINE,
    LEVELS_OVERS = 12,    /* columns of a row: detector level minus the level of the row's middle */
    LEVELS_OVER_LOW = -9, /* dB, level of the first column; energy is shared between the two nearest */
    LEVELS_UNITS = 1024,  /* units of energy in a block at the middle of its row */

    LEVELS_MOST = 65535, /* most frames or blocks in a count; at these, or LEVELS_MOST * 128 units, all is halved */
    LEVELS_GAINS = LEVELS_ROWS + LEVELS_OVERS - 1, /* detector levels of all rows and columns, LEVELS_STEP apart */
};

extern const double levels_attack[LEVELS_ATTACKS];   /* seconds */
extern const double levels_release[LEVELS_RELEASES]; /* seconds */

/* The memory. Speed a * LEVELS_RELEASES + r reads with levels_attack[a] and levels_release[r]. */
typedef struct {
    uint32_t frames;                                           /* voiced frames in the counts, halved with them */
    uint32_t count[LEVELS_SPEEDS][LEVELS_BINS];                /* parts of voiced frames by level */
    uint32_t blocks[LEVELS_FINE];                              /* blocks by K-weighted level */
    uint32_t energy[LEVELS_SPEEDS][LEVELS_ROWS][LEVELS_OVERS]; /* units of energy */
} Levels;

/* A frame of 50 ms, as each speed reads it. */
typedef struct {
    double level[LEVELS_SPEEDS];   /* dB, mean over the frame */
    double weighed[LEVELS_SPEEDS]; /* dB, mean weighted by K-weighted energy */
    double energy;                 /* mean square after K weighting, summed over the channels */
} LevelsFrame;

void levels_clear(Levels *l); /* nothing was heard */

/* The number of voiced frames, worked out from the counts: sets `frames` after these were restored. */
uint32_t levels_frames(const Levels *l);

/* Adds a voiced frame. */
void levels_add_voice(Levels *l, const LevelsFrame *frame);

/* Adds a block: the frames of the last 400 ms, voiced or not, oldest first. */
void levels_add_block(Levels *l, const LevelsFrame *const frame[LEVELS_BLOCK]);

/* The four speeds around an attack and a release, and their weights, which sum to 1. */
typedef struct {
    uint32_t speed[4];
    double weight[4];
} LevelsMix;

/* attack, release: seconds, held within the range of the tables. */
LevelsMix levels_mix(double attack, double release);

/* Level of the loudest quarter of voiced frames: the mean, dB, of its middle half. The mean follows the take smoothly;
 * the level of a single frame would jump where levels lie far apart. l->frames > 0. */
double levels_loud(const Levels *l, uint32_t speed);

/* The makeup is worked out in three steps, so that the work can be spread. First, a curve's gains as factors: */
void levels_gains(const Curve *curve, double gain[LEVELS_GAINS]);

/* Second, once for each speed of a mix with its weight: adds the rows' energies to sums, which begin at zero. */
typedef EvenSums LevelsSums;

void levels_sum(const Levels *l, uint32_t speed, double weight, const double gain[LEVELS_GAINS], LevelsSums *sums);

/* Third, the makeup (even_loudness.h): gain on the compressed signal, dB, that keeps the gated loudness of the input
 * when `blend` (0..1) of it is mixed with 1 - blend of the input. 0 or more; 0 while nothing was heard. */
double levels_makeup(const Levels *l, const LevelsSums *sums, double blend);

#endif
