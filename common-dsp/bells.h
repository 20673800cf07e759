/* Finds bells in a fixed curve (fixed_curve.h): the peaking filters (the cookbook's) that it holds beyond what any
 * recording has (recordings.h). Gives their frequency, height and Q, and how likely each is. The equations are in
 * resonance.md ("Bells").
 *
 * The search goes in steps that each report their cost, for callers on a grid (work.h). */
#ifndef LINCTUS_BELLS_H
#define LINCTUS_BELLS_H

#include "recordings.h"

enum {
    BELLS_PLACES = 75, /* frequencies tried, in 24ths of an octave from 160 Hz */
    BELLS_WIDTHS = 4,  /* Qs tried: 2..5.7 in steps of sqrt 2 */
    BELLS_MOST = 4,    /* bells that one search may find */
    /* Distance of a bin's centre from a bell's, in 24ths of an octave: twice the bin's number less the place. */
    BELLS_APART_LEAST = -(BELLS_PLACES - 1),
    BELLS_APART = 2 * (CURVE_BINS - 1) - BELLS_APART_LEAST + 1,
};

typedef struct {
    double hz, height; /* height: dB */
    double q;
    double odds; /* natural logarithm of the odds that the bell is there */
} Bell;

typedef struct {
    Bell at[BELLS_MOST]; /* the likeliest first */
    uint32_t count;
} Bells;

typedef enum { BELLS_PRIOR, BELLS_FACTOR, BELLS_TRY, BELLS_CHOOSE, BELLS_TAKE_OUT, BELLS_DONE } BellsPhase;

typedef struct {
    float shape[BELLS_WIDTHS][BELLS_APART]; /* a bell's level, dB per dB of its height, by distance of bin and bell */

    BellsPhase phase;
    double cost; /* of the last step: thousands of instructions */
    FixedCurve curve;
    Recordings recordings;
    uint32_t wanted, at;
    bool closed[BELLS_PLACES];
    uint32_t bins, bin[CURVE_BINS];                       /* the bins in use: enough harmonics were heard in them */
    double covariance[CURVE_BINS * (CURVE_BINS + 1) / 2]; /* lower half, dB squared */
    double factor[CURVE_BINS * CURVE_BINS];               /* its Cholesky factor */
    double left[CURVE_BINS], white[CURVE_BINS];           /* the curve less what is explained, dB; the same, whitened */
    double odds[BELLS_PLACES][BELLS_WIDTHS];              /* natural logarithms */
    double height[BELLS_PLACES][BELLS_WIDTHS], doubt[BELLS_PLACES][BELLS_WIDTHS]; /* dB; its variance, dB squared */
    double like[BELLS_PLACES]; /* likelihood with a bell there over that without one: the mean over its widths */
    double taken[CURVE_BINS], taken_doubt; /* shape and variance (dB squared) of the bell found last */
    Bells found;
} BellSearch;

/* Frequency of place 0..BELLS_PLACES - 1, Hz: 160..1355. */
double bells_hz(uint32_t place);

/* Q of width 0..BELLS_WIDTHS - 1: 2..5.7. */
double bells_q(uint32_t width);

/* Makes the table of shapes. Call it once, before the rest. */
void bells_init(BellSearch *s);

/* Begins a search for the `wanted` likeliest bells, 1..BELLS_MOST. Fewer are found after too few harmonics. */
void bells_start(BellSearch *s, const FixedCurve *curve, uint32_t wanted);

/* One step of the search that bells_start() began. true: s->found is complete, and further calls do nothing. */
bool bells_step(BellSearch *s);

#endif
