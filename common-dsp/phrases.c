#include "phrases.h"

#include "units.h"

enum { REST = 30, SHORTEST = 40, LONGEST = 1500 }; /* frames */

bool phrases_hear(Phrases *p, const HearingFrame *frame, double *db)
{
    if (frame->hz > 0.0) {
        p->power += frame->power;
        ++p->sounding;
        p->silent = 0;
    } else {
        ++p->silent;
    }
    if (p->silent < REST && p->sounding < LONGEST)
        return false;
    const bool found = p->sounding >= SHORTEST;
    *db = found ? power_to_db(p->power / p->sounding) : UNITS_DB_FLOOR;
    *p = (Phrases){0};
    return found;
}
