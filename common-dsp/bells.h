/* Bells in a fixed curve: which peaking filters (the cookbook's) stand in it that are not in recordings as such
 * (recordings.h), where, how high, and how likely. The equations stand in resonance.md ("Bells").
 *
 * The work goes in steps of about equal cost, for callers on a grid. */
#ifndef LINCTUS_BELLS_H
#define LINCTUS_BELLS_H

#include "recordings.h"

enum {
    BELLS_PLACES = 75, /* 24ths of an octave from 160 Hz */
    BELLS_WIDTHS = 4,  /* Q 2..5.7, by sqrt 2 */
    BELLS_MOST = 4,
    /* Twice a bin less a place: how far, in 24ths of an octave, the middle of a bin lies from a bell's. */
    BELLS_APART_LEAST = -(BELLS_PLACES - 1),
    BELLS_APART = 2 * (CURVE_BINS - 1) - BELLS_APART_LEAST + 1,
};

typedef struct {
    double hz, height; /* dB */
    double q;
    double odds; /* natural logarithm of: it is here, against it is not */
} Bell;

typedef struct {
    Bell at[BELLS_MOST]; /* the likeliest first */
    uint32_t count;
} Bells;

typedef enum { BELLS_PRIOR, BELLS_FACTOR, BELLS_TRY, BELLS_CHOOSE, BELLS_TAKE_OUT, BELLS_DONE } BellsPhase;

typedef struct {
    float shape[BELLS_WIDTHS][BELLS_APART]; /* dB per dB, by how far apart they are */

    BellsPhase phase;
    FixedCurve curve;
    Recordings recordings;
    uint32_t wanted, at;
    bool closed[BELLS_PLACES];
    uint32_t bins, bin[CURVE_BINS];                       /* those that enough was heard of */
    double covariance[CURVE_BINS * (CURVE_BINS + 1) / 2]; /* rows up to the diagonal */
    double factor[CURVE_BINS * CURVE_BINS];
    double left[CURVE_BINS], white[CURVE_BINS]; /* of the curve, dB; and in units of what is expected */
    double odds[BELLS_PLACES][BELLS_WIDTHS];    /* natural logarithms */
    double height[BELLS_PLACES][BELLS_WIDTHS], doubt[BELLS_PLACES][BELLS_WIDTHS]; /* dB; dB squared */
    double taken[CURVE_BINS], taken_doubt;
    Bells found;
} BellSearch;

/* Hz of place 0..BELLS_PLACES - 1: 160..1355. */
double bells_hz(uint32_t place);

/* Q of width 0..BELLS_WIDTHS - 1: 2..5.7. */
double bells_q(uint32_t width);

/* Once: makes the table. */
void bells_init(BellSearch *s);

/* Looks for the `wanted` likeliest, 1..BELLS_MOST. Fewer are found where too few harmonics were heard. */
void bells_start(BellSearch *s, const FixedCurve *curve, uint32_t wanted);

/* One step of the search that bells_start() began; afterwards it does nothing. true: s->found is complete. */
bool bells_step(BellSearch *s);

#endif
