/* What Trim has learned, frame by frame (listening.h), and the two figures that follow from it: how loud the voice is,
 * and how high its own peaks are. Two tallies hold a take of any length; every block and every frame of the voice has
 * the same weight. */
#ifndef LINCTUS_TRIM_MEMORY_H
#define LINCTUS_TRIM_MEMORY_H

#include "learned.h"
#include "voice_level.h"

enum { TRIM_ENOUGH = 12 }; /* blocks of voice, about a second: with fewer there is no figure */

#define TRIM_OWN_PEAKS 0.85 /* share of the voice's frames that stay under its "own peaks"; settled in trim.md */

typedef struct {
    Tally level; /* levels of the blocks of voice, dB (voice_level.h) */
    Tally peaks; /* highest true peaks of the voice's frames, dBTP */
    double peak; /* dBTP, the voice's own peaks for as long as there are no frames; UNITS_DB_FLOOR: none */
    double kept_level, kept_peak; /* the figures before the last fresh start; UNITS_DB_FLOOR: none */
} TrimMemory;

/* dB and dBTP, in steps of 1/256 dB; UNITS_DB_FLOOR: none. */
typedef struct {
    double level, peak;
} TrimFigures;

/* How it is stored. */
extern const LearnedSchema trim_schema;

/* Takes in the next frame, on the grid of listening_hops(), with its power, and its true peak as an amplitude. blocks:
 * state, zero it to reset. hop: samples in 100 ms. true: something was learned. */
bool trim_memory_hear(TrimMemory *m, VoiceLevel *blocks, const ListeningFrame *frame, uint32_t hop);

/* Figures of what was heard, if it is enough; else those kept by the last fresh start. Looks at every bin. */
TrimFigures trim_memory_figures(const TrimMemory *m);

/* Empties the memory, but keeps its figures until enough was heard for new ones. */
void trim_memory_start_afresh(TrimMemory *m);

#endif
