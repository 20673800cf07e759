/* The level of a voice: plain RMS of 400 ms blocks every 100 ms, only those near which a voice sounds, gated at -70 dB
 * and at 10 dB below the mean of what is left. (Gates as in ITU-R BS.1770, without its weighting.) Plain RMS: a
 * full-scale sine reads -3.01 dB. Of two channels, the mean of their powers counts. And the peaks of its frames. */
#ifndef LINCTUS_VOICE_LEVEL_H
#define LINCTUS_VOICE_LEVEL_H

#include "voice.h"

/* ---- Where a voice sounds, and how loud ---- */

enum {
    VOICE_LEVEL_HOPS = 64,   /* of 100 ms: the four of a block, those around it, and voice_lag() */
    VOICE_LEVEL_FRAMES = 10, /* of 10 ms, in a hop */
    VOICE_LEVEL_NEAR = 3,    /* hops to either side of a block in which a voice may sound */
};

typedef struct {
    double power[VOICE_LEVEL_FRAMES]; /* summed over its samples */
    float peak[VOICE_LEVEL_FRAMES];   /* as they were told */
    uint32_t sounding;                /* cells in which a voice sounds */
} VoiceHop;

/* Finds the blocks. A block counts if a voice sounds for 50 ms or more inside it or within 0.3 s of it, so that the
 * weak beginnings and ends of words and their unvoiced sounds weigh as they do in a plain gated level: of 17 recorded
 * speakers, 30 s each, 16 are within 0.2 dB of it and one that creaks 0.41 dB under it. (With the blocks of which a
 * quarter is voiced, words with rests between them read up to 0.7 dB louder.) Where a room's noise lies less than 10 dB
 * under the voice, a plain level counts it and this one does not.
 *
 * A thump of under 20 ms says nothing of the voice: what a frame has more than VOICE_LEVEL_STANDS_OUT over the fourth
 * strongest of its block does not count. */
#define VOICE_LEVEL_STANDS_OUT 3.0 /* times its power */

typedef struct {
    Voice voice;
    uint32_t channels, hop;      /* samples in 100 ms, to the nearest */
    uint32_t at, frame, ends_at; /* samples into the hop that is filled now; its frame, and where that ends */
    uint64_t filled, judged;     /* whole hops since the reset; hops whose answer is complete */
    int64_t answered;            /* sample in the hop under judgement that the next answer speaks of */
    bool complete;               /* one was completed by the last call of voice_level_found() */
    VoiceHop ring[VOICE_LEVEL_HOPS];
} VoiceLevel;

/* Allocates. false: no memory, or rate or channels out of range. */
bool voice_level_init(VoiceLevel *v, double rate, uint32_t channels);
void voice_level_done(VoiceLevel *v);
void voice_level_reset(VoiceLevel *v);

/* Call it before each cell of DSP_CELL samples: true when one more block counts, and its level in dB. */
bool voice_level_found(VoiceLevel *v, double *db);

/* The highest peak of the cell that was just processed, for voice_level_peaks(). Before voice_level_found(). */
void voice_level_peak(VoiceLevel *v, float peak);

/* After voice_level_found(): the peaks of the frames of a hop in which a voice sounds for 30 ms or more, when the call
 * completed one; else NULL. */
const float *voice_level_peaks(VoiceLevel *v);

/* n: what is left of the cell or less. */
void voice_level_process(VoiceLevel *v, const float *const *in, uint32_t n);

/* ---- All levels found so far ---- */

#define LEVEL_MEMORY_LOW  (-70.0) /* dB: the absolute gate */
#define LEVEL_MEMORY_HIGH 24.0    /* dB; louder blocks count as this loud */

enum {
    LEVEL_MEMORY_STEP = 4, /* bins per dB */
    LEVEL_MEMORY_BINS = 94 * LEVEL_MEMORY_STEP,
    LEVEL_MEMORY_MOST = 65535, /* blocks in one bin; then all bins are halved */
};

/* How many blocks had which level, in steps of 1/4 dB. So a take of any length fits, every block of it has the same
 * weight, and both gates can be drawn again whenever the mean moves. Finer steps gain nothing: the levels of a voice
 * spread over many bins, and the mean is within 0.03 dB of that of the unrounded levels (0.125 dB for a tone that never
 * moves). Zero it to empty it. */
typedef struct {
    uint32_t count[LEVEL_MEMORY_BINS];
} LevelMemory;

/* Blocks under -70 dB are not taken. */
void level_memory_add(LevelMemory *m, double db);

/* Blocks in it, at most `enough`: it stops counting there. */
uint32_t level_memory_blocks(const LevelMemory *m, uint32_t enough);

/* The gated level in dB; UNITS_DB_FLOOR when it is empty. Looks at every bin: once a block, not once a sample. */
double level_memory_level(const LevelMemory *m);

#endif
