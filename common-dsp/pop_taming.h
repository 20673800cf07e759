/* Pops: turns down the bursts of air that a p or b blows onto the microphone, and only those.
 *
 * What counts as a pop: sound under 100 Hz that is as loud as the voice (`from` dB against its level, over 20 ms), and
 * at that moment 10 dB louder than all that sounds above 250 Hz. So it is caught on its rise too, when it is 8 dB
 * fainter, if it lies 18 dB over all above. A sung or spoken note, however low, has more above: its own harmonics. A
 * hum that goes on when the voice above it ends is none: a burst rises by 10 dB out of what went on. What
 * stays so for longer than 0.18 s is none either (a rumble, a bump) and is let go; and as soon as a voice sounds above
 * it, it is over. The delay lets the cut come before the burst. While it learns, the pops of the take are counted as
 * Check counts them (pops.h), which looks a quarter of a second ahead and so can count, but not catch.
 *
 * How it is turned down: by a bell, `down` dB deep, that reaches half of that at 35 Hz and at `up_to`. It moves without
 * a kink and starts from rest. Where nothing is caught the output is the input, 14 ms later, to the bit.
 *
 * What is learned: the voice's level (voice_level.h) and the levels of bursts. Until a second of voice was heard
 * nothing is caught. On hold it catches by the level that was learned. A living channel stands in for a dead one
 * (living.h). It only ever turns down: nothing here makes things loud. Method ours; the bell is that of design.h. */
#ifndef LINCTUS_POP_TAMING_H
#define LINCTUS_POP_TAMING_H

#include "delay.h"
#include "fade.h"
#include "living.h"
#include "pops.h"
#include "processor.h"
#include "smooth.h"
#include "sos.h"

typedef struct {
    bool learn;        /* keep learning the voice's level; false holds it. Hold -> learn starts afresh */
    double down;       /* dB, 0..30: by how much a pop goes down */
    double from;       /* dB against the voice's level, -12..12: from so loud on, under 100 Hz, it is one */
    double up_to;      /* Hz, 100..300: nothing above is turned down, but for a slope */
    bool hear_removed; /* puts out only what is taken out */
} PopTamingParams;

typedef struct {
    double voice_level; /* dB, learned; UNITS_DB_FLOOR: less than a second of voice was heard */
    double found;       /* pops that the take had while it learned; counts to 65535 */
    double cut;         /* dB, now, 0 or less */
    double caught;      /* pops turned down since the last reset or fresh start; counts to 65535 */
} PopTamingReport;

enum { POP_TAMING_BURSTS = 240 };

typedef struct {
    Tally voice, bursts; /* levels, dB */
} PopMemory;

/* Of the sound at a few kHz: what the voice's bottom and its upper part are at this moment. */
typedef struct {
    uint32_t group, into; /* samples to one; of the one under way */
    float sum;
    Svf bottom[2], top;
    SvfState bottom_state[2], top_state;
    double keep_up, keep_down; /* of a step */
    double low, high;          /* powers */
} PopEar;

typedef struct {
    double rate;
    uint32_t channels, latency;
    PopTamingParams params;
    LearnSwitch learn;
    PopMemory memory;
    uint32_t version; /* of the memory */
    double level;     /* dB, of the voice */

    Hearing hearing;
    Pops finder;
    Living living;
    PopEar ear;

    double steady;     /* power of the bottom: follows up no quicker than a hum comes, */
    double climb;      /* times a cell */
    uint32_t settling; /* cells until it tells what rises */
    uint32_t lasting;  /* cells that it sounds like a pop */
    bool catching;     /* one is being turned down */
    uint32_t over;     /* cells since it fell */
    Smooth cut, top;   /* dB; log2 of Hz. Stepped once a cell */
    bool at_rest;      /* the bell does nothing in this cell */
    Sos bell;
    Fade hear;
    Delay delay[DSP_CHANNELS];
    PopTamingReport report;
} PopTaming;

/* Latency: 14 ms. */
extern const Processor pops;

#endif
