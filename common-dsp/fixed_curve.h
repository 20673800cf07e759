/* The curve over frequency that stays fixed in a voice while its notes and vowels change. It is fitted together with
 * the vowels (vowels.h) and the source to the pieces of a take, by expectation maximisation. Equations, sources and how
 * the constants were settled: resonance.md, "The fit".
 *
 * The work is cut into steps that report their cost, for callers on a grid (work.h). */
#ifndef LINCTUS_FIXED_CURVE_H
#define LINCTUS_FIXED_CURVE_H

#include "vowel_blend.h"

enum {
    FIXED_SOURCE = 4, /* the source's unknowns: offsets of the first three harmonics, dB; slope, dB per octave */
    FIXED_UNKNOWN = FIXED_SOURCE + CURVE_BINS,
};

/* The fitted curve. Bins are twelfths of an octave from CURVE_LOW. */
typedef struct {
    double level[CURVE_BINS];  /* dB up to a common offset; 0 where nothing was heard */
    double weight[CURVE_BINS]; /* harmonics that fell into the bin; outliers count for less than 1 */
    double misfit;             /* RMS error over all harmonics, dB: how well vowels and curve describe this voice */
} FixedCurve;

/* What a fit starts from and ends with: source as FIXED_SOURCE, curve in dB, shares of the vowels. */
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
    double cost;                       /* of the last step, thousands of instructions */
    uint32_t first, end;               /* pieces first..end - 1 are fitted */
    uint32_t passes, pass, settle, at; /* passes wanted and done; rounds done of this pass; item of this phase */

    /* Normal equations of source and fixed curve, then their Cholesky factor. */
    double normal[FIXED_UNKNOWN][FIXED_UNKNOWN], right[FIXED_UNKNOWN];
    double bin_sum[CURVE_BINS], bin_weight[CURVE_BINS];
    double error, errors; /* sum of squared errors, dB^2, and their number */
} FixedFit;

/* Clears the fit and makes the tables. Allocates nothing. */
void fixed_init(FixedFit *f);

/* Takes in piece number `at`, below RESONANCE_PIECES. To be called before the fit for every piece to be fitted. */
void fixed_read(FixedFit *f, uint32_t at, const ResonancePiece *piece);

/* The model before anything is known: all vowels equally frequent, the source's usual slope, no curve. */
FixedModel fixed_unknown(void);

/* Starts a fit to pieces first..end - 1 from a model. passes: over all vowels, 1 or more. */
void fixed_start(FixedFit *f, VowelKind kind, const FixedModel *from, uint32_t first, uint32_t end, uint32_t passes);

/* Does one step; true when the fit is done. */
bool fixed_step(FixedFit *f);

/* Results of a fit that is done: the curve, and the model, from which another fit may start. */
FixedCurve fixed_curve(const FixedFit *f);
FixedModel fixed_model(const FixedFit *f);

#endif
