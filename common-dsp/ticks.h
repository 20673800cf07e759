/* Ticks: takes mouth clicks out, in words and between them, and leaves everything else as it is.
 *
 * Ticks are found by their linear prediction error (tick_finder.h) and taken out by estimating the voice under them
 * (tick_repair.h); the method is in ticks.md. Where nothing is found the output is the input, 48 ms later, to the bit.
 * The work is done at 24 to 48 kHz, or at the take's own rate where it is lower; over 48 kHz the sound is thinned out
 * for it (thin.h), and what is taken away is brought back to the full rate by the same low-pass. Of two channels half
 * the sum is listened to, and each is mended by itself.
 *
 * It works from the first second, with nothing learned. It learns the voice's level (voice_level.h), to leave alone
 * what nobody would hear beside the voice, and how many ticks of each level the take had. On hold the learned level
 * stays in force. A living channel stands in for a dead one (living.h). Nothing here makes things loud. */
#ifndef LINCTUS_TICKS_H
#define LINCTUS_TICKS_H

#include "clicks.h"
#include "delay.h"
#include "event_memory.h"
#include "fade.h"
#include "processor.h"
#include "thin.h"
#include "tick_repair.h"

typedef struct {
    bool learn;        /* keep learning the voice's level; false holds it. Hold -> learn starts afresh */
    double down;       /* dB, 0..60: by how much a tick is turned down; 0: nothing is done */
    double from;       /* dB, 0..30: how far over everything around it a tick stands, at least */
    double faintest;   /* dB against the voice's level, -60..0: fainter ticks are left, once that level is known */
    double longest;    /* ms, 1..6: the longest tick */
    bool hear_removed; /* the output is only what is taken out */
} TicksParams;

typedef struct {
    double voice_level; /* dB, as learned; UNITS_DB_FLOOR: less than a second of voice was heard */
    double found;       /* ticks in the take while it learned; counts to 65535 */
    bool now;           /* a tick is being taken out now */
    double removed;     /* ticks taken out since the last reset or fresh start; counts to 65535 */
    double last_size;   /* dB, peak of the last tick taken out; UNITS_DB_FLOOR: none yet */
    double last_ago;    /* s since then; counts to 3600; -1: none yet */
} TicksReport;

/* What one tick adds to the sound at the slower rate. */
typedef struct {
    uint64_t from; /* its first sample there */
    uint32_t n;    /* 0: there is none */
    float tick[DSP_CHANNELS][TICK_REPAIR_MOST];
} TicksGoing;

enum { TICKS_GOING = 4 }; /* ticks that may wait to go out: they come at least 15 ms apart */

typedef struct {
    double rate;
    uint32_t channels, factor, latency;
    TicksParams params;
    LearnSwitch learn;
    EventMemory memory;
    uint32_t version; /* of the memory */
    double level;     /* dB, of the voice */

    Listening listening;
    VoiceLevel voice;

    Thin thin[DSP_CHANNELS];
    Living living;
    TickFinder finder;
    ClicksGap gap[DSP_CHANNELS];
    float *past; /* the sound at the slower rate: a ring of TICK_PAST samples for each channel */
    Tick tick;   /* the tick that is being worked out */
    TickRepair repair;
    uint32_t due; /* pieces until it has to be ready; 0: no tick is being worked out */
    TicksGoing going[TICKS_GOING];
    uint32_t gone; /* ticks put in `going` so far */

    uint64_t heard; /* samples */
    uint64_t since; /* samples since the last tick */
    Fade hear;
    Delay delay[DSP_CHANNELS];
    TicksReport report;
} Ticks;

/* Latency: 42 to 48 ms by sample rate, 47.5 at 48 kHz. */
extern const Processor ticks;

#endif
