/* What is fixed in a voice while its notes and vowels change: a curve over frequency, fitted together with vowels
 * (vowels.h) and source to the pieces of a take by expectation and maximisation. The equations, the sources and how the
 * constants were settled stand in resonance.md ("The fit").
 *
 * The work goes in steps whose cost is told, for callers on a grid (work.h). */
#ifndef LINCTUS_FIXED_CURVE_H
#define LINCTUS_FIXED_CURVE_H

#include "vowels.h"

enum {
    FIXED_SOURCE = 4, /* offsets in dB of the first three harmonics; slope, dB per octave */
    FIXED_UNKNOWN = FIXED_SOURCE + CURVE_BINS,
};

/* As fitted. Bins are twelfths of an octave from CURVE_LOW. */
typedef struct {
    double level[CURVE_BINS];  /* dB, but for a constant; 0 where nothing was heard */
    double weight[CURVE_BINS]; /* harmonics that fell in, outliers counting for less */
    double misfit;             /* dB RMS, of all harmonics: how well vowels and curve describe this voice */
} FixedCurve;

/* Where a fit starts and what it ends with. */
typedef struct {
    double source[FIXED_SOURCE], fixed[CURVE_BINS], share[VOWELS];
} FixedModel;

typedef enum {
    FIT_PRIOR,
    FIT_LOOK,
    FIT_TRY,
    FIT_BLEND,
    FIT_SHARES,
    FIT_SUM_UP,
    FIT_SOLVE,
    FIT_BACK,
    FIT_DONE,
} FitPhase;

typedef struct {
    VowelTables tables;
    VowelPiece piece[RESONANCE_PIECES];
    VowelShares shares;
    VowelLook look; /* of the piece under way */
    double source[FIXED_SOURCE], fixed[CURVE_BINS];

    FitPhase phase;
    double cost;         /* of the last step, thousands of instructions */
    uint32_t first, end; /* the pieces that count */
    uint32_t passes, pass, settle, at;

    /* Normal equations of source and fixed curve, then their Cholesky factor. */
    double normal[FIXED_UNKNOWN][FIXED_UNKNOWN], right[FIXED_UNKNOWN];
    double bin_sum[CURVE_BINS], bin_weight[CURVE_BINS];
    double error, errors; /* sum of squares, and of how many */
} FixedFit;

/* Once: makes the tables. */
void fixed_init(FixedFit *f);

/* Before the fit, for every piece that shall count. at < RESONANCE_PIECES */
void fixed_read(FixedFit *f, uint32_t at, const ResonancePiece *piece);

/* Nothing is known: vowels evenly sung, the source's usual slope, no curve. */
FixedModel fixed_unknown(void);

/* Starts a fit to pieces first..end - 1 from a model, of so many passes over all vowels, 1 or more. */
void fixed_start(FixedFit *f, VowelKind kind, const FixedModel *from, uint32_t first, uint32_t end, uint32_t passes);

/* One step. true: it is done. */
bool fixed_step(FixedFit *f);

/* When it is done: the curve, and the model that a next fit may start from. */
FixedCurve fixed_curve(const FixedFit *f);
FixedModel fixed_model(const FixedFit *f);

#endif
