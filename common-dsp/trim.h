/* Trim: measures the voice while it sounds and sets one steady gain that brings it to a target level, and keeps peaks
 * under a ceiling. How the gain and the ceiling were settled, with figures: trim.md.
 *
 * The gain is target - voice level, -24..30 dB, lowered where the voice's own peaks (the level that TRIM_OWN_PEAKS of
 * its frames stay under) would pass the ceiling. It depends only on what was learned. Until TRIM_ENOUGH blocks were
 * heard (about a second of voice) it is 0 dB, or after a fresh start what it was before. It rises by at most 6 dB/s,
 * falls by at most 24 dB/s, along a smooth curve (gain_move.h). The hand trim comes on top.
 *
 * A peak that would still pass the ceiling is turned down for that moment (limiter.h), on learn and on hold. The
 * ceiling holds for the true peak before the hand trim. No sample passes it.
 *
 * At 0 dB with no peak over the ceiling the output is the input its latency ago, to the bit. Two channels get the same
 * gain; the level is the mean of both, and where one is dead (living.h), that of the other. */
#ifndef LINCTUS_TRIM_H
#define LINCTUS_TRIM_H

#include "clipping.h"
#include "gain_move.h"
#include "limiter.h"
#include "processor.h"
#include "trim_memory.h"
#include "true_peak.h"

typedef struct {
    double target;    /* dB, plain RMS: where the voice should lie, -30..-10 */
    bool learn;       /* true: keep improving the gain; false: hold it. Hold -> learn starts afresh */
    double hand_trim; /* dB, added to the learned gain, -24..24: not held by the ceiling, can make things loud */
    double ceiling;   /* dBTP, -6..0: nothing passes it before the hand trim */
} TrimParams;

typedef struct {
    double voice_level; /* dB, plain RMS, as learned: the gain is made from it, on hold too. UNITS_DB_FLOOR: nothing
                           learned */
    double gain;        /* dB, now */
    double peak;        /* dBTP: highest true peak of the input since the reset; UNITS_DB_FLOOR: silence */
    double
        clipped; /* clipped samples in the input since the reset, of all channels (clipping.h); counts to a million */
    bool in_window;     /* the learned voice level plus the gain lies in -24..-12 dB */
    bool held_back;     /* the voice's own peaks keep the learned gain below what the target asks for */
    double turned_down; /* dB, 0 or more, now: by how much a peak over the ceiling is turned down */
} TrimReport;

typedef struct {
    uint32_t channels;
    TrimParams params;
    bool started; /* a gain was set since the reset */
    LearnSwitch learn;

    Listening listening;
    VoiceLevel voice;
    TruePeak true_peak;
    float cell_peak; /* highest true peak in the cell under way, an amplitude */
    Clipping clipping[DSP_CHANNELS];

    TrimMemory memory;
    uint32_t version;    /* of the memory */
    TrimFigures learned; /* the figures in force */
    double highest;      /* dBTP */
    float highest_peak;  /* the same as an amplitude */

    GainMove gain, hand;    /* the whole gain; the hand trim alone */
    double pre, pre_before; /* factor, gain before the hand trim: highest in this cell, and in the last */
    double to_ceiling;      /* factor from an amplitude to its ratio to the ceiling */
    Limiter limiter;
    uint32_t clipped;
    TrimReport report;
} Trim;

/* Latency: up to 2 ms. */
extern const Processor trim;

#endif
