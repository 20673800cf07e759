/* Tone's low cut: a Butterworth high-pass of 12, 18 or 24 dB per octave. Its frequency is set by hand or follows the
 * lowest note (low_cut.h). A change of slope is a cross-fade, without a click. */
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
    double goal;               /* log2 of Hz: where the lowest note has moved it so far, slowly */
    Smooth octave;             /* log2 of the frequency in Hz */
    Smooth share[TONE_SLOPES]; /* of each slope, 0..1: a change of slope is a cross-fade */
} ToneCut;

/* rate: Hz. The struct is zeroed. */
void tone_cut_init(ToneCut *c, double rate);

/* Jumps to its target. It will jump to the next target too. */
void tone_cut_restart(ToneCut *c);

/* hz: set by hand; the cut is 3 dB down there. */
void tone_cut_set(ToneCut *c, ToneSlope slope, double hz);

/* The order of a slope's filter. Not for TONE_CUT_OFF. */
uint32_t tone_cut_order(ToneSlope slope);

/* Hz: the cut that suits a lowest note in Hz; 0 if that is 0, not known. With the cut off: as for 12 dB per octave. */
double tone_cut_found(double lowest_note, ToneSlope slope);

/* Call once a cell. listening: the cut follows the lowest note (Hz; 0: not known) slowly, or jumps if `fresh`, which is
 * after a restart. Not listening: the cut goes to where it was set by hand. */
void tone_cut_aim(ToneCut *c, double lowest_note, bool listening, bool fresh);

/* Whether nothing moves: the sections would be those of the last step. */
bool tone_cut_settled(const ToneCut *c);

/* Moves on by a cell. Gives that cell's sections, to be run one after the other. */
void tone_cut_step(ToneCut *c, Svf section[TONE_CUT_SECTIONS]);

#endif
