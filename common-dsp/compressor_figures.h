/* Compressor's figures, worked out from its memory for the controls as they stand: how loud the voice is, the threshold
 * that gives the wanted reduction, and the makeup that keeps the loudness. Their targets are a pure function of memory
 * and controls, worked out in small steps; the figures move to them slowly. Method: compressor.md. */
#ifndef LINCTUS_COMPRESSOR_FIGURES_H
#define LINCTUS_COMPRESSOR_FIGURES_H

#include "levels.h"

#include <stdbool.h>

/* The controls that the figures depend on. */
typedef struct {
    bool wanted;            /* true: the threshold is found for `reduction`; false: it is the curve's */
    double reduction;       /* dB, 0..12 */
    Curve curve;            /* with the threshold set by hand */
    double attack, release; /* s */
    bool even_loudness;     /* the makeup found is in use */
    double blend;           /* 0..1: share of the compressed signal */
    double raised;          /* dB by which the voice now comes in louder than it was counted */
} CompressorWish;

/* Zero it to reset. */
typedef struct {
    bool known;         /* there are figures */
    bool at_once;       /* the next figures apply at once, as right after a restore */
    double loud_target; /* dB: the middle of the loudest quarter of voiced frames */
    double loud;        /* dB: the same on its way there */
    double found;       /* dB, 0..40: the makeup found */
    double makeup;      /* dB: the same on its way there; 0 where it is not in use */

    /* The round under way. */
    uint32_t stage;
    LevelsMix mix;
    double loud_sum;
    double gain[LEVELS_GAINS];
    LevelsSums sums;
} CompressorFigures;

/* One small step; COMPRESSOR_FIGURES_STEPS of them are a round. memory: NULL where too little is known; then nothing
 * happens, and the round begins anew. */
enum { COMPRESSOR_FIGURES_STEPS = 10 };
void compressor_figures_step(CompressorFigures *f, const Levels *memory, const CompressorWish *wish);

/* For the start: does all steps at once, and the figures apply from the first sample. */
void compressor_figures_start(CompressorFigures *f, const Levels *memory, const CompressorWish *wish);

/* The memory was replaced. enough: the new one holds enough for figures. The next figures apply at once. */
void compressor_figures_replaced(CompressorFigures *f, bool enough);

/* Moves the figures towards their targets, by `most` dB at most; the makeup falls at once. */
void compressor_figures_move(CompressorFigures *f, const CompressorWish *wish, double most);

/* dB: the threshold to use now, that for `loud` and the wanted reduction, or the one set by hand. Without figures it is
 * LEVELS_HIGH, over every voice: nothing is turned down, as no makeup could keep the loudness. */
double compressor_figures_threshold(const CompressorFigures *f, const CompressorWish *wish);

/* The curve that listening uses: the one that learning is on its way to, not yet the one in force. loudest: dB, the
 * detector's highest reading, which counts until there are figures. */
Curve compressor_figures_curve_ahead(const CompressorFigures *f, const CompressorWish *wish, double loudest);

#endif
