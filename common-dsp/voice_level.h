/* The level of a voice: plain RMS of 400 ms blocks every 100 ms, only those near which a voice sounds, gated at -70 dB
 * and at 10 dB below the mean of what is left. (Gates as in ITU-R BS.1770, without its weighting.) Plain RMS: a
 * full-scale sine reads -3.01 dB. Of two channels, the mean of their powers counts. And the peaks of its frames.
 *
 * A block counts if a voice sounds for 50 ms or more inside it or within 0.3 s of it, so that the weak beginnings and
 * ends of words and their unvoiced sounds weigh as they do in a plain gated level: of 17 recorded speakers, 30 s each,
 * 16 are within 0.2 dB of it and one that creaks 0.41 dB under it. (With the blocks of which a quarter is voiced, words
 * with rests between them read up to 0.7 dB louder.) Where a room's noise lies less than 10 dB under the voice, a plain
 * level counts it and this one does not.
 *
 * A direct current is no sound, and some recordings have one that is stronger than their voice: the mean of a block's
 * samples is taken off.
 *
 * A thump of under 20 ms says nothing of the voice: what a frame has more than VOICE_LEVEL_STANDS_OUT over the fourth
 * strongest of its block does not count. */
#ifndef LINCTUS_VOICE_LEVEL_H
#define LINCTUS_VOICE_LEVEL_H

#include "listening.h"
#include "tally.h"

/* ---- Which blocks count: a fold over frames on the grid of listening_hops(), with their power ---- */

enum {
    VOICE_LEVEL_FRAMES = 10, /* in a hop of 100 ms */
    VOICE_LEVEL_HOPS = 16,   /* kept: the four of a block and those around it */
    VOICE_LEVEL_NEAR = 3,    /* hops to either side of a block in which a voice may sound */
};

#define VOICE_LEVEL_STANDS_OUT 3.0 /* times its power */

typedef struct {
    double power[VOICE_LEVEL_FRAMES]; /* summed over its samples */
    float peak[VOICE_LEVEL_FRAMES];
    float sum[DSP_CHANNELS]; /* of its samples */
    uint32_t sounding;       /* cells in which a voice sounds */
} VoiceHop;

/* Zero it to reset. */
typedef struct {
    uint32_t frames; /* of the hop under way */
    uint64_t hops;   /* whole ones */
    VoiceHop ring[VOICE_LEVEL_HOPS];
} VoiceLevel;

typedef struct {
    bool block;        /* one more counts: */
    double db;         /* its level */
    const float *peak; /* of VOICE_LEVEL_FRAMES frames, until the next call: a hop has ended in which a voice sounds for
                          30 ms or more; else NULL */
} VoiceLevelFound;

/* The next frame; hop: samples in 100 ms. */
VoiceLevelFound voice_level_hear(VoiceLevel *v, const ListeningFrame *frame, uint32_t hop);

/* ---- All levels found so far ---- */

#define LEVEL_MEMORY_LOW  (-70.0) /* dB: the absolute gate */
#define LEVEL_MEMORY_HIGH 24.0    /* dB; louder blocks count as this loud */

enum {
    LEVEL_MEMORY_STEP = 4, /* bins per dB */
    LEVEL_MEMORY_BINS = 94 * LEVEL_MEMORY_STEP,
};

/* How many blocks had which level, in steps of 1/4 dB. So a take of any length fits, every block of it has the same
 * weight, and both gates can be drawn again whenever the mean moves. Finer steps gain nothing: the levels of a voice
 * spread over many bins, and the mean is within 0.03 dB of that of the unrounded levels (0.125 dB for a tone that never
 * moves). */
extern const TallyScale level_memory_scale;

/* Blocks under -70 dB are not taken. */
void level_memory_add(Tally *m, double db);

/* Were so many blocks taken? */
bool level_memory_has(const Tally *m, uint32_t blocks);

/* The gated level in dB; UNITS_DB_FLOOR when it is empty. Looks at every bin: once a block, not once a sample. */
double level_memory_level(const Tally *m);

#endif
