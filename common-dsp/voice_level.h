/* The level of a voice: plain RMS of 400 ms blocks every 100 ms, only those in which a voice sounds, gated at -70 dB
 * and at 10 dB below the mean of what is left. (Gates as in ITU-R BS.1770, without its weighting.) Plain RMS: a
 * full-scale sine reads -3.01 dB. Of two channels, the mean of their powers counts. */
#ifndef LINCTUS_VOICE_LEVEL_H
#define LINCTUS_VOICE_LEVEL_H

#include "voice.h"

/* ---- Where a voice sounds, and how loud ---- */

enum { VOICE_LEVEL_HOPS = 64 }; /* of 100 ms: the four of a block, and voice_lag() */

typedef struct {
    double power; /* summed over its samples */
    uint32_t asked, sounding;
} VoiceHop;

/* Finds the blocks. A block counts if a voice sounds in a quarter of it or more (then the edges of phrases weigh as
 * they do in a plain gated level: measured, 0.1 dB apart at most). */
typedef struct {
    Voice voice;
    uint32_t channels, hop;  /* samples in 100 ms, to the nearest */
    uint32_t at;             /* samples into the hop that is filled now */
    uint64_t filled, judged; /* whole hops since the reset; hops whose answer is complete */
    int64_t answered;        /* sample in the hop under judgement that the next answer speaks of */
    VoiceHop ring[VOICE_LEVEL_HOPS];
} VoiceLevel;

/* Allocates. false: no memory, or rate or channels out of range. */
bool voice_level_init(VoiceLevel *v, double rate, uint32_t channels);
void voice_level_done(VoiceLevel *v);
void voice_level_reset(VoiceLevel *v);

/* Call it before each cell of DSP_CELL samples: true when one more block counts, and its level in dB. */
bool voice_level_found(VoiceLevel *v, double *db);

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
