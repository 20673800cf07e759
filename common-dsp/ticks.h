/* Ticks: takes mouth clicks out, in words and between them, and leaves everything else as it is.
 *
 * Ticks are found by what linear prediction leaves of the sound (tick_finder.h) and taken out by working out what the
 * voice did under them (tick_repair.h). Where nothing is found the output is the input, 48 ms later, to the bit. All is
 * done at 24 to 48 kHz, or the take's own rate where it is lower; over 48 kHz the sound is thinned out for it (thin.h),
 * and what is taken away is brought back to the full rate with the same low-pass. Two channels are listened
 * to as their half sum, and each is mended by itself.
 *
 * It works from the first second, with nothing learned. What is learned is the voice's level (voice_level.h), so that
 * what nobody would hear beside it is left alone, and how many ticks of which level the take had. On hold it mends by
 * the level that was learned. A living channel stands in for a dead one (living.h). Nothing here makes things loud. */
#ifndef LINCTUS_TICKS_H
#define LINCTUS_TICKS_H

#include "clicks.h"
#include "delay.h"
#include "fade.h"
#include "processor.h"
#include "thin.h"
#include "tick_repair.h"
#include "voice_level.h"

typedef struct {
    bool learn;        /* keep learning the voice's level; false holds it. Hold -> learn starts afresh */
    double down;       /* dB, 0..60: by how much a tick goes down; 0: nothing is done */
    double from;       /* dB, 0..30: so far over all around it on, it is one */
    double faintest;   /* dB against the voice's level, -60..0: what is fainter is left, where that level is known */
    double longest;    /* ms, 1..6 */
    bool hear_removed; /* puts out only what is taken out */
} TicksParams;

typedef struct {
    double voice_level; /* dB, learned; UNITS_DB_FLOOR: less than a second of voice was heard */
    double found;       /* ticks that the take had while it learned; counts to 65535 */
    bool now;           /* one is being taken out */
    double removed;     /* ticks taken out since the last reset or fresh start; counts to 65535 */
    double last_size;   /* dB: peak of what was taken out last; UNITS_DB_FLOOR: nothing yet */
    double last_ago;    /* s since, counts to 3600; -1: none */
} TicksReport;

enum { TICKS_LEVELS = 240 };

typedef struct {
    Tally voice, ticks; /* levels, dB */
} TicksMemory;

/* What one tick adds to the slow sound. */
typedef struct {
    uint64_t from; /* sample of it */
    uint32_t n;    /* 0: there is none */
    float tick[DSP_CHANNELS][TICK_REPAIR_MOST];
} TicksGoing;

enum { TICKS_GOING = 4 }; /* that wait to go out: they come 15 ms apart at least */

typedef struct {
    double rate;
    uint32_t channels, factor, latency;
    TicksParams params;
    LearnSwitch learn;
    TicksMemory memory;
    uint32_t version; /* of the memory */
    double level;     /* dB, of the voice */

    Listening listening;
    VoiceLevel voice;

    Thin thin[DSP_CHANNELS];
    Living living;
    TickFinder finder;
    ClicksGap gap[DSP_CHANNELS];
    float past[DSP_CHANNELS][TICK_PAST]; /* the slow sound: a ring */
    Tick tick;                           /* that is worked out, */
    TickRepair repair;
    uint32_t due; /* pieces until it has to be ready; 0: none is */
    TicksGoing going[TICKS_GOING];
    uint32_t gone; /* ticks that were put there */

    uint64_t heard; /* samples */
    uint64_t since; /* of them, since the last tick */
    Fade hear;
    Delay delay[DSP_CHANNELS];
    TicksReport report;
} Ticks;

/* Latency: 42 to 48 ms by sample rate, 47.5 at 48 kHz. */
extern const Processor ticks;

#endif
