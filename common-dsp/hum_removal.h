/* Hum: takes mains hum out of a take, 50 or 60 Hz and its harmonics up to 1 kHz, and follows its drift. No delay.
 *
 * While it learns it listens to the rests: is there a hum, of which family, how loud (mains.h, the same decision as
 * Check's)? Until that is sure, and in a take without a hum, the output is the input, to the bit. Then the hum is
 * followed (hum_follower.h: sinusoids that share one drifting fundamental, followed and subtracted), once it was steady
 * for half a second it is faded in and subtracted. The rests steer how strong each harmonic is; under the voice only
 * the drift is followed, with what of the hum the voice leaves free, so no sung note is taken for hum or thinned.
 *
 * What is learned: the levels of voice, rests and hum, and how the hum is made up. With that a take on hold begins: the
 * first moment that shows it clearly tells the phase, and the hum is gone from there on. On hold it goes on following,
 * for a hum that stands still there is none; of what was learned nothing moves. Hold -> learn starts afresh.
 *
 * It only ever takes a hum out that it has heard in the rests, by no more than twice the level found: nothing here
 * makes things loud. */
#ifndef LINCTUS_HUM_REMOVAL_H
#define LINCTUS_HUM_REMOVAL_H

#include "fade.h"
#include "hearing.h"
#include "hum_memory.h"
#include "processor.h"
#include "smooth.h"

typedef struct {
    bool learn; /* keep listening whether there is a hum; false holds what was found. Hold -> learn starts afresh */
    double hum_down;   /* dB, 0..60: by how much the hum goes down */
    double up_to;      /* Hz, 50..1000: no harmonic above it is taken out */
    bool listening;    /* the family is found by listening; false: it is `mains`, as soon as a hum of it is found */
    double mains;      /* 50 or 60 Hz */
    bool hear_removed; /* puts out only what is taken out */
} HumRemovalParams;

typedef struct {
    double found_hz;    /* 50, 60; 0: no hum was found */
    double found_level; /* dB, of the hum in the rests; UNITS_DB_FLOOR: none was found */
    double voice_heard; /* s, while it learned */
    double drift;       /* cents: how far the fundamental lies off 50 or 60 Hz now; -30: none is followed for sure */
    double now_level;   /* dB, RMS of what is taken out now; UNITS_DB_FLOOR: nothing */
    double in_all;      /* dB, energy of all that was taken out to that of all that came in while a hum was followed,
                           since the last reset or fresh start; UNITS_DB_FLOOR: nothing */
} HumRemovalReport;

typedef struct {
    double rate;
    uint32_t channels;
    HumRemovalParams params;
    LearnSwitch learn;
    HumMemory memory;
    uint32_t version; /* of the memory */
    uint32_t news;    /* moves while it listens or follows a hum */

    Hearing hearing;
    Rests rests;
    MainsFound found, followed; /* nothing is put out but what is found */
    double rest_level;
    double voice_heard;
    bool renew; /* the follower has to begin anew, once it is faded out */

    HumFollower follower;
    bool was_quiet; /* it was a rest */
    Smooth depth;   /* 0..1: how much of the hum is taken out; stepped once a cell */
    double from;    /* where it stood at the cell's start */
    Fade hear;
    uint32_t into; /* the cell */
} HumRemoval;

extern const Processor hum;

#endif
