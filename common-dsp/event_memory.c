#include "event_memory.h"

#include "units.h"

enum { ENOUGH = 10 }; /* blocks of voice, at least, for a level */

static const TallyScale event_scale = {-100.0, 0.5, EVENT_LEVELS};

void event_memory_add(EventMemory *m, double db)
{
    tally_add(&m->events, &event_scale, db);
}

double event_memory_level(const EventMemory *m)
{
    return level_memory_has(&m->voice, ENOUGH) ? level_memory_level(&m->voice) : UNITS_DB_FLOOR;
}

uint32_t event_memory_from(const EventMemory *m, double db)
{
    return tally_from(&m->events, &event_scale, db);
}
