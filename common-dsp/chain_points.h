/* Chain at a grid point: what its stages tell each other (chain.md). A part of chain.c. */
#ifndef LINCTUS_CHAIN_POINTS_H
#define LINCTUS_CHAIN_POINTS_H

#include "chain.h"

/* What the stages record at a grid point for the stages behind them, which may come to that point later. Gains in
 * dB. */
typedef struct {
    bool voice;                   /* Trim hears a voice; as late as Trim's output */
    double trim, trim_goal;       /* Trim's gain, and the gain it is bound for */
    double tone, tone_goal;       /* the same for Tone's makeup */
    bool aims;                    /* Tone has worked out afresh: */
    ToneCurve curve;              /* its curve */
    double power[SPECTRUM_BANDS]; /* and its factor on the power in each band */
    double gain, goal;            /* the gain of Trim, Tone and Compressor together, and the gain it is bound for */
    double read;                  /* dB: the reading of Compressor's detector, on the scale of its learned levels */
    Curve in_force, ahead;        /* on that scale: Compressor's curve in force, and the one it is bound for */
    bool known;                   /* Compressor knows the voice */
} ChainPoint;

/* A stage's tick, with what goes with it. They are called in this order for each point, but one stage may come to a
 * point while the stage behind it is still some points back. */
void chain_tick_trim(Chain *c, ChainPoint *p);
void chain_tick_tone(Chain *c, ChainPoint *p);
void chain_tick_compressor(Chain *c, ChainPoint *p);
void chain_tick_esses(Chain *c, const ChainPoint *p);

/* dB by which the whole is louder than Trim's output. */
double chain_louder(const Chain *c);

#endif
