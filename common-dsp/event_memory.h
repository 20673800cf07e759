/* What Pops and Ticks have learned: how loud the voice is, and how many pops or ticks of each level the take had. */
#ifndef LINCTUS_EVENT_MEMORY_H
#define LINCTUS_EVENT_MEMORY_H

#include "learned.h"
#include "voice_level.h"

enum { EVENT_LEVELS = 240 }; /* bins of the tally of events by level */

typedef struct {
    Tally voice, events; /* how many blocks of voice (level_memory_add()), and events, had which level, dB */
} EventMemory;

/* Initialiser of a schema: how it is stored, under these keys. */
#define EVENT_SCHEMA(voice_key, events_key)                                                                            \
    {                                                                                                                  \
        .fields = 2, .field = {                                                                                        \
            {voice_key, LEVEL_MEMORY_BINS, 0.f, TALLY_MOST, LEARNED_IN(EventMemory, voice, LEARNED_COUNTS)},           \
            {events_key, EVENT_LEVELS, 0.f, TALLY_MOST, LEARNED_IN(EventMemory, events, LEARNED_COUNTS)}               \
        }                                                                                                              \
    }

/* Counts an event of this level, dB. */
void event_memory_add(EventMemory *m, double db);

/* The voice's level, dB; UNITS_DB_FLOOR: less than a second of voice was heard. */
double event_memory_level(const EventMemory *m);

/* How many events had this level, dB, or more. */
uint32_t event_memory_from(const EventMemory *m, double db);

#endif
