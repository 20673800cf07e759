/* Pops: turns down the bursts of air that a p or b blows onto the microphone, and only those. Method ours.
 *
 * A pop is sound under 100 Hz that is as loud as the voice (`from` dB relative to its level, over 20 ms), far louder
 * than all sound above 250 Hz, and rises out of steady sound. pop_watch.h catches it and lets it go. While learning,
 * the take's pops are counted as Check counts them (pops.h). That looks a quarter of a second ahead, so it can count
 * pops but not catch them.
 *
 * The cut is a bell (design.h), `down` dB deep, half of that at 35 Hz and at `up_to`. It starts from rest and moves
 * without a kink; the delay of 14 ms lets it come before the burst. Where nothing is caught the output is the delayed
 * input to the bit.
 *
 * It learns the voice's level (voice_level.h) and the levels of bursts. Nothing is caught until a second of voice was
 * heard; on hold the learned level is used. A living channel stands in for a dead one (living.h). It never turns up. */
#ifndef LINCTUS_POP_TAMING_H
#define LINCTUS_POP_TAMING_H

#include "delay.h"
#include "event_memory.h"
#include "fade.h"
#include "living.h"
#include "pop_watch.h"
#include "pops.h"
#include "processor.h"
#include "smooth.h"
#include "sos.h"

typedef struct {
    bool learn;        /* true: keep learning the voice's level; false: hold it. Hold -> learn starts afresh */
    double down;       /* dB, 0..30: depth of the cut */
    double from;       /* dB against the voice's level, -12..12: least level of a pop under 100 Hz */
    double up_to;      /* Hz, 100..300: upper end of the cut, where it is half as deep */
    bool hear_removed; /* put out only what is removed */
} PopTamingParams;

typedef struct {
    double voice_level; /* the learned level, dB; UNITS_DB_FLOOR: less than a second of voice was heard */
    double found;       /* pops in the take while it learned; up to 65535 */
    double cut;         /* the cut now, dB, 0 or less */
    double caught;      /* pops turned down since the last reset or fresh start; up to 65535 */
} PopTamingReport;

typedef struct {
    double rate;
    uint32_t channels, latency;
    PopTamingParams params;
    LearnSwitch learn;
    EventMemory memory;
    uint32_t version; /* counts changes of the memory */
    double level;     /* the voice's level, dB; UNITS_DB_FLOOR: not known */

    Hearing hearing;
    Pops finder;
    Living living;
    PopWatch watch;

    Smooth cut, top; /* depth, dB; upper end, log2 of Hz. Stepped once a cell */
    bool at_rest;    /* the bell does nothing in this cell */
    Sos bell;
    Fade hear;
    Delay delay[DSP_CHANNELS];
    PopTamingReport report;
} PopTaming;

/* Latency: 14 ms. */
extern const Processor pops;

#endif
