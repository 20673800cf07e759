#include "pops.h"

#include "units.h"

#define OVER_BEFORE 10.0 /* dB */
#define OVER_AFTER  6.0

enum { LENGTH = 14 }; /* frames after which a pop has died away */

static double low_at(const Pops *p, uint64_t frame)
{
    return p->low[frame % POPS_FRAMES];
}

static bool is_highest(const Pops *p, uint64_t at)
{
    for (uint64_t i = at - POPS_BEFORE; i <= at + LENGTH; ++i)
        if (i < at ? low_at(p, i) > low_at(p, at) : i > at && low_at(p, i) >= low_at(p, at))
            return false;
    return true;
}

static bool near_voice(const Pops *p, uint64_t at)
{
    for (uint64_t i = at - POPS_BEFORE; i <= at + POPS_AFTER; ++i)
        if (p->voiced[i % POPS_FRAMES])
            return true;
    return false;
}

/* It comes out of less and goes back to less. */
static bool is_burst(const Pops *p, uint64_t at)
{
    double before = HUGE_VAL, after = 0.0;
    for (uint64_t i = at - POPS_BEFORE; i + 2 < at; ++i)
        before = fmin(before, low_at(p, i));
    for (uint64_t i = at + LENGTH; i <= at + POPS_AFTER; ++i)
        after += low_at(p, i) / (POPS_AFTER - LENGTH + 1);
    const double db = power_to_db(low_at(p, at));
    return db >= power_to_db(before) + OVER_BEFORE && db >= power_to_db(after) + OVER_AFTER;
}

bool pops_hear(Pops *p, const HearingFrame *frame, double *db)
{
    p->low[p->heard % POPS_FRAMES] = 0.5 * (p->last + frame->low);
    p->voiced[p->heard % POPS_FRAMES] = frame->hz > 0.0;
    p->last = frame->low;
    if (p->heard++ < POPS_BEFORE + POPS_AFTER)
        return false;
    const uint64_t at = p->heard - 1 - POPS_AFTER;
    *db = power_to_db(low_at(p, at));
    return low_at(p, at) > 0.0 && is_highest(p, at) && is_burst(p, at) && near_voice(p, at);
}
