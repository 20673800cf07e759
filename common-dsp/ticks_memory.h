/* What Ticks has learned: how loud the voice is, and how many ticks of each level the take had. */
#ifndef LINCTUS_TICKS_MEMORY_H
#define LINCTUS_TICKS_MEMORY_H

#include "learned.h"
#include "voice_level.h"

enum { TICKS_LEVELS = 240 }; /* bins of the tally of ticks by level */

typedef struct {
    Tally voice, ticks; /* how many blocks of voice, and ticks, had which level, dB */
} TicksMemory;

/* How it is stored. */
extern const LearnedSchema ticks_schema;

/* Takes in the next frame, on the grid of listening_hops(), with its power. blocks: state, zero it to reset. hop:
 * samples in 100 ms. true: something was learned. */
bool ticks_memory_hear(TicksMemory *m, VoiceLevel *blocks, const ListeningFrame *frame, uint32_t hop);

/* Counts a tick. db: its peak. */
void ticks_memory_add(TicksMemory *m, double db);

/* The voice's level, dB; UNITS_DB_FLOOR: less than a second of voice was heard. */
double ticks_memory_level(const TicksMemory *m);

/* Ticks of this level, dB, or more. */
uint32_t ticks_memory_from(const TicksMemory *m, double db);

#endif
