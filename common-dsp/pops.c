#include "pops.h"

#include "units.h"

#include <string.h>

#define POP_OVER_BEFORE 10.0 /* dB, least rise of a burst over the faintest frame before it */
#define POP_OVER_AFTER  6.0  /* dB, least fall of a burst to the mean after it */

enum {              /* frames of 10 ms */
       LENGTH = 14, /* after which a pop has died away */
       RISE = 4,    /* from a pop's beginning to its highest frame */
       BLOCK = 40,  /* in a block of voice */
       LEAST = 8,   /* of a block, least that have to be free of pops */
};

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

/* Whether the level rises to this frame and falls after it as a burst does. */
static bool is_burst(const Pops *p, uint64_t at)
{
    double before = HUGE_VAL, after = 0.0;
    for (uint64_t i = at - POPS_BEFORE; i + 2 < at; ++i)
        before = fmin(before, low_at(p, i));
    for (uint64_t i = at + LENGTH; i <= at + POPS_AFTER; ++i)
        after += low_at(p, i) / (POPS_AFTER - LENGTH + 1);
    const double db = power_to_db(low_at(p, at));
    return db >= power_to_db(before) + POP_OVER_BEFORE && db >= power_to_db(after) + POP_OVER_AFTER;
}

bool pops_hear(Pops *p, const HearingFrame *frame, double *db)
{
    p->low[p->heard % POPS_FRAMES] = 0.5 * (p->last + frame->low);
    p->power[p->heard % POPS_FRAMES] = frame->power;
    p->burst[p->heard % POPS_FRAMES] = false;
    p->voiced[p->heard % POPS_FRAMES] = frame->hz > 0.0;
    p->last = frame->low;
    if (p->heard++ < POPS_BEFORE + POPS_AFTER)
        return false;
    const uint64_t at = p->heard - 1 - POPS_AFTER;
    *db = power_to_db(low_at(p, at));
    const bool found = low_at(p, at) > 0.0 && is_highest(p, at) && is_burst(p, at) && near_voice(p, at);
    p->burst[at % POPS_FRAMES] = found;
    return found;
}

/* Marks the frames of a block, from number `first` on, that a burst of power `least` or more covers. */
static void mark_bursts(const Pops *p, uint64_t first, double least, bool marked[BLOCK])
{
    for (uint32_t i = 0; i < BLOCK + RISE + LENGTH; ++i) { /* bursts that end in the block or begin in it */
        const uint64_t at = first + i - LENGTH;
        if (!p->burst[at % POPS_FRAMES] || low_at(p, at) < least)
            continue;
        for (uint32_t k = 0; k < BLOCK; ++k)
            marked[k] |= first + k + RISE >= at && first + k <= at + LENGTH;
    }
}

static double mean_power(const Pops *p, uint64_t first, const bool marked[BLOCK], uint32_t *frames)
{
    double sum = 0.0;
    *frames = 0;
    for (uint32_t k = 0; k < BLOCK; ++k) {
        sum += marked[k] ? 0.0 : p->power[(first + k) % POPS_FRAMES];
        *frames += !marked[k];
    }
    return *frames ? sum / *frames : 0.0;
}

double pops_raise(const Pops *p, uint32_t frames)
{
    bool marked[BLOCK] = {false};
    uint32_t n;
    if (p->heard < BLOCK + LENGTH + frames)
        return 0.0;
    const uint64_t first = p->heard - frames - BLOCK;
    const double all = mean_power(p, first, marked, &n);
    mark_bursts(p, first, 0.0, marked);
    const double without = mean_power(p, first, marked, &n);
    if (n < LEAST || !(without > 0.0))
        return 0.0;
    memset(marked, 0, sizeof marked);
    mark_bursts(p, first, without, marked);
    return power_to_db(all) - power_to_db(mean_power(p, first, marked, &n));
}
