/* Trim: measures the voice while it sounds and sets one steady gain that brings it to a target level.
 *
 * What it learns: the levels of all voiced blocks heard since learning began (voice_level.h), as counts over level, and
 * the highest true peak (true_peak.h). The gain follows from these alone, so that a restored session has the same gain,
 * to the bit, and goes on from there. All blocks are kept, not the last minute: in a take of four minutes with a quiet
 * verse and a loud chorus the gain has to fit the whole of it.
 *
 * The gain: target - voice level, -24..30 dB, lowered where it would push the highest peak over the ceiling. Until
 * TRIM_ENOUGH blocks were heard (about a second of voice) there is no figure: the gain is 0 dB, or after learning was
 * started afresh, what it was. The hand trim comes on top.
 *
 * How it moves: up by at most 6 dB/s whatever the reason, down by at most 24 dB/s, but within 10 ms where a new peak
 * would pass the ceiling; always along a smooth curve (gain_move.h). After a reset it starts at its place. At 0 dB the
 * output is the input, to the bit. Two channels get the same gain. */
#ifndef LINCTUS_TRIM_H
#define LINCTUS_TRIM_H

#include "clipping.h"
#include "gain_move.h"
#include "learned.h"
#include "true_peak.h"
#include "voice_level.h"

enum { TRIM_ENOUGH = 10 }; /* blocks */

typedef struct {
    double target;    /* dB, plain RMS: where the voice should lie, -30..-10 */
    bool learn;       /* true: keep improving the gain; false: hold it. Hold -> learn starts afresh */
    double hand_trim; /* dB, added to the learned gain, -24..24: not held by the ceiling, can make things loud */
    double ceiling;   /* dBTP, -6..0: the learned gain never pushes the highest peak heard past it */
} TrimParams;

typedef struct {
    double voice_level; /* dB, plain RMS. While learning: what the gain is made from; on hold: of the voice heard since
                           the reset. UNITS_DB_FLOOR: none heard or learned */
    double gain;        /* dB, now */
    double peak;        /* dBTP: highest true peak of the input since the reset; UNITS_DB_FLOOR: silence */
    double
        clipped; /* clipped samples in the input since the reset, of all channels (clipping.h); counts to a million */
    bool in_window; /* the voice after the gain lies in -24..-12 dB */
    bool held_back; /* the ceiling limits the learned gain */
} TrimReport;

/* What the learned gain is made from. */
typedef struct {
    LevelMemory level;
    double peak;                  /* dBTP */
    double kept_level, kept_peak; /* of the figure before the last fresh start; UNITS_DB_FLOOR: none */
} TrimMemory;

typedef struct {
    uint32_t channels;
    TrimParams params;
    Cell cell;
    bool started; /* since the reset */
    LearnSwitch learn;

    VoiceLevel voice;
    TruePeak true_peak;
    float cell_peak; /* highest of the cell under way */
    Clipping clipping[DSP_CHANNELS];

    TrimMemory memory;
    uint32_t version;                   /* of the memory */
    double memory_level;                /* dB, of the memory; UNITS_DB_FLOOR: fewer than TRIM_ENOUGH blocks */
    double learned_level, learned_peak; /* in force; UNITS_DB_FLOOR: none */
    LevelMemory heard;                  /* levels since the reset, on hold too */
    double heard_level, highest;

    GainMove gain;
    uint32_t clipped;
    TrimReport report;
} Trim;

extern const LearnedSchema trim_schema;

/* Allocates. false: no memory, or rate or channels out of range. */
bool trim_init(Trim *t, double rate, uint32_t channels);
void trim_done(Trim *t);
void trim_reset(Trim *t);
void trim_set(Trim *t, const TrimParams *params);
void trim_process(Trim *t, const float *const *in, float *const *out, uint32_t n);
void trim_report(const Trim *t, TrimReport *report);
uint32_t trim_latency(const Trim *t); /* 0 */
uint32_t trim_learned_version(const Trim *t);
void trim_learned_get(const Trim *t, Learned *learned);
void trim_learned_put(Trim *t, const Learned *learned);

#endif
