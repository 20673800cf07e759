/* What Compressor works out of its memory, for the controls as they stand: how loud the voice is, the threshold that
 * gives the wanted reduction, and the makeup that keeps the loudness. The targets are a pure function of memory and
 * controls; they are worked out in small steps, round and round, and move slowly to new values. Method: compressor.md.
 */
#ifndef LINCTUS_COMPRESSOR_FIGURES_H
#define LINCTUS_COMPRESSOR_FIGURES_H

#include "levels.h"

#include <stdbool.h>

/* The controls that the figures depend on. */
typedef struct {
    bool wanted;            /* true: the threshold is found for `reduction`; false: it is the curve's */
    bool learning;          /* there may be figures soon: until then the curve's threshold holds */
    double reduction;       /* dB, 0..12 */
    Curve curve;            /* with the threshold set by hand */
    double attack, release; /* s */
    bool even_loudness;     /* the makeup found is in use */
    double blend;           /* 0..1 of the compressed signal */
    double raised;          /* dB, by which the voice comes in louder than the memory has it */
} CompressorWish;

/* Zero it to reset. */
typedef struct {
    bool known;         /* there are figures */
    bool at_once;       /* the next figures hold at once, as right after a restore */
    double loud_target; /* dB: the middle of the loudest quarter of voiced frames */
    double loud;        /* the same, as far as it has moved */
    double found;       /* dB of makeup, 0..40 */
    double makeup;      /* the same, as far as it has risen; 0 where it is not in use */

    /* The round under way. */
    uint32_t stage;
    LevelsMix mix;
    double loud_sum;
    double gain[LEVELS_GAINS];
    LevelsSums sums;
} CompressorFigures;

/* One small step; all of them are done in COMPRESSOR_FIGURES_STEPS. memory: NULL where nothing is in force; then
 * nothing happens, and the round begins anew. */
enum { COMPRESSOR_FIGURES_STEPS = 10 };
void compressor_figures_step(CompressorFigures *f, const Levels *memory, const CompressorWish *wish);

/* At the start everything holds from the first sample: all steps in one go, nothing moves. */
void compressor_figures_start(CompressorFigures *f, const Levels *memory, const CompressorWish *wish);

/* The memory was replaced; known: it holds enough. The next figures hold at once. */
void compressor_figures_replaced(CompressorFigures *f, bool enough);

/* A time has passed in which what is learned may move by `most` dB. */
void compressor_figures_move(CompressorFigures *f, const CompressorWish *wish, double most);

/* dB, the threshold to use now: the one wished for at the loudness as far as it has moved, or the one set by hand. On
 * hold without figures it is LEVELS_HIGH, over every voice: nothing is turned down, as no makeup could keep the
 * loudness. */
double compressor_figures_threshold(const CompressorFigures *f, const CompressorWish *wish);

/* The curve that listening reckons with: the one that learning is on its way to, not yet the one in force. loudest: dB,
 * the most that the detector has read; it counts until there are figures. */
Curve compressor_figures_curve_ahead(const CompressorFigures *f, const CompressorWish *wish, double loudest);

#endif
