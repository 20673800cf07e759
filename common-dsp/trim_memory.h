/* What Trim has learned, frame by frame (listening.h), and what follows from it alone: how loud the voice is, and how
 * high the peaks are that are its own. Two tallies hold a take of any length; every block and every frame of the voice
 * in them has the same weight. */
#ifndef LINCTUS_TRIM_MEMORY_H
#define LINCTUS_TRIM_MEMORY_H

#include "learned.h"
#include "voice_level.h"

enum { TRIM_ENOUGH = 12 }; /* blocks of voice, about a second: with fewer there is no figure */

#define TRIM_OWN_PEAKS 0.85 /* share of the frames that the voice's own peaks are over: see trim.h */

typedef struct {
    Tally level; /* of the blocks, dB (voice_level.h) */
    Tally peaks; /* of the voice's frames, dBTP */
    double peak; /* dBTP, stands for the voice's own peaks while there are no frames; UNITS_DB_FLOOR: none */
    double kept_level, kept_peak; /* of the figures before the last fresh start; UNITS_DB_FLOOR: none */
} TrimMemory;

/* dB and dBTP, in steps of 1/256 dB; UNITS_DB_FLOOR: none. */
typedef struct {
    double level, peak;
} TrimFigures;

/* How it is stored. */
extern const LearnedSchema trim_schema;

/* The next frame, through `blocks` (zero it to reset), on the grid of listening_hops() with its power and its true peak
 * as an amplitude; hop: samples in 100 ms. true: something was learned. */
bool trim_memory_hear(TrimMemory *m, VoiceLevel *blocks, const ListeningFrame *frame, uint32_t hop);

/* Of what was heard, if it is enough; else those that were kept. Looks at every bin. */
TrimFigures trim_memory_figures(const TrimMemory *m);

/* Empty, but that the figures are kept until enough is heard. */
void trim_memory_start_afresh(TrimMemory *m);

#endif
