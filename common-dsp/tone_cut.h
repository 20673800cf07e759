/* Tone's low cut: a Butterworth high-pass of 12, 18 or 24 dB per octave, whose frequency is set by hand or follows from
 * the lowest note (low_cut.h), and whose slopes turn into one another without a click. */
#ifndef LINCTUS_TONE_CUT_H
#define LINCTUS_TONE_CUT_H

#include "smooth.h"
#include "svf.h"

enum { TONE_CUT_SECTIONS = 2 };

typedef enum { TONE_CUT_OFF, TONE_CUT_12, TONE_CUT_18, TONE_CUT_24, TONE_SLOPES } ToneSlope; /* dB per octave */

/* The low cut that follows from a lowest note. */
typedef struct {
    double lowest; /* Hz; 0: not sure */
    uint32_t order;
    double octave; /* log2 of the low cut in Hz */
} ToneNote;

typedef struct {
    double rate;
    ToneSlope slope;
    double hand;               /* log2 of the frequency set by hand, in Hz */
    ToneNote note;             /* what the goal was last worked out for */
    double goal;               /* log2 of Hz: where the lowest note moves it, slowly */
    Smooth octave;             /* log2 of the frequency in Hz */
    Smooth share[TONE_SLOPES]; /* of each slope, 0..1: a change of slope is a cross-fade */
} ToneCut;

/* rate: Hz. The struct is zeroed. */
void tone_cut_init(ToneCut *c, double rate);

/* Jumps to where it was going; the next setting is jumped to as well. */
void tone_cut_restart(ToneCut *c);

/* hz: set by hand, where the cut is 3 dB down. */
void tone_cut_set(ToneCut *c, ToneSlope slope, double hz);

/* The order of a slope's filter; not of TONE_CUT_OFF. */
uint32_t tone_cut_order(ToneSlope slope);

/* Hz, the cut that suits a lowest note in Hz, as for 12 dB per octave where it is off; 0 for 0, no note known. */
double tone_cut_found(double lowest_note, ToneSlope slope);

/* Once a cell. listening: it follows the lowest note (Hz; 0: not known), slowly, but at once where it is fresh after a
 * restart; else it is where the hand set it. */
void tone_cut_aim(ToneCut *c, double lowest_note, bool listening, bool fresh);

/* Nothing moves: the sections are those of the last step. */
bool tone_cut_settled(const ToneCut *c);

/* A cell's step on the way; its sections, to be run one after the other. */
void tone_cut_step(ToneCut *c, Svf section[TONE_CUT_SECTIONS]);

#endif
