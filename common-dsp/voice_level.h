/* The level of a voice, and the peaks of its frames. The level is the plain RMS (a full-scale sine reads -3.01 dB) of
 * 400 ms blocks every 100 ms near which a voice sounds, gated at -70 dB and at 10 dB below the mean of what is left; of
 * two channels, the mean of their powers. The gates are those of ITU-R BS.1770, without its weighting.
 *
 * A block counts if a voice sounds for 50 ms or more inside it or within 0.3 s of it. DC is taken off. A thump of under
 * 20 ms does not count: a frame's power is limited to VOICE_LEVEL_STANDS_OUT times that of the fourth strongest in its
 * block. Reasons and figures: voice.md. */
#ifndef LINCTUS_VOICE_LEVEL_H
#define LINCTUS_VOICE_LEVEL_H

#include "listening.h"
#include "tally.h"

/* ---- Which blocks count: frame by frame, on the grid of listening_hops(), with their power ---- */

enum {
    VOICE_LEVEL_FRAMES = 10, /* frames in a hop of 100 ms */
    VOICE_LEVEL_HOPS = 16,   /* hops kept: the four of a block and those around it */
    VOICE_LEVEL_NEAR = 3,    /* hops to either side of a block in which a voice may sound */
};

#define VOICE_LEVEL_STANDS_OUT 3.0 /* times the power of the block's fourth strongest frame */

typedef struct {
    double power[VOICE_LEVEL_FRAMES]; /* of each frame, summed over its samples */
    float peak[VOICE_LEVEL_FRAMES];   /* of each frame, an amplitude */
    float sum[DSP_CHANNELS];          /* of the hop's samples, for the DC */
    uint32_t sounding;                /* cells in which a voice sounds */
} VoiceHop;

/* Zero it to reset. */
typedef struct {
    uint32_t frames; /* so far in the hop under way */
    uint64_t hops;   /* whole hops since the reset */
    VoiceHop ring[VOICE_LEVEL_HOPS];
} VoiceLevel;

typedef struct {
    bool block;        /* one more block counts */
    double db;         /* the block's level, dB */
    const float *peak; /* peaks of the VOICE_LEVEL_FRAMES frames of a hop that has ended, if a voice sounds in it for 30
                          ms or more, else NULL; valid until the next call */
} VoiceLevelFound;

/* Takes in the next frame; hop: samples in 100 ms. */
VoiceLevelFound voice_level_hear(VoiceLevel *v, const ListeningFrame *frame, uint32_t hop);

/* ---- All levels found so far ---- */

#define LEVEL_MEMORY_LOW (-70.0) /* dB: the absolute gate */

enum {
    LEVEL_MEMORY_STEP = 4,                      /* bins per dB */
    LEVEL_MEMORY_BINS = 94 * LEVEL_MEMORY_STEP, /* up to 24 dB; louder blocks count as that */
};

/* How many blocks had which level, in steps of 1/4 dB. A take of any length fits, all its blocks have the same weight,
 * and both gates can be applied again whenever the mean moves. Finer steps gain nothing: a voice's levels spread over
 * many bins, and the mean is within 0.03 dB of that of unrounded levels (0.125 dB for a steady tone). */
extern const TallyScale level_memory_scale;

/* Takes in a block's level, dB; one under -70 dB does not count. */
void level_memory_add(Tally *m, double db);

/* true: at least this many blocks were taken in. */
bool level_memory_has(const Tally *m, uint32_t blocks);

/* The gated level in dB; UNITS_DB_FLOOR when it is empty. Looks at every bin: once a block, not once a sample. */
double level_memory_level(const Tally *m);

#endif
