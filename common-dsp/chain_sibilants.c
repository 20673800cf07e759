#include "chain_sibilants.h"

#include <math.h>

#define THRESHOLD_MOVED 0.25 /* dB: Esses is told anew when the threshold has moved by more */

void sibilants_clear(ChainSibilants *s, bool all)
{
    s->all = all;
    s->count = 0;
    s->building = false;
    s->curve = (Curve){.threshold = HUGE_VAL};
}

void sibilants_reset(ChainSibilants *s)
{
    s->began = false;
    s->cells = 0;
}

/* The readings of a sibilant are kept until the next begins, as its end is known a little later. */
static void follow(ChainSibilants *s, bool sounds, double read)
{
    if (sounds && !s->began) {
        s->read = 0.0;
        s->cells = 0;
    }
    s->began = sounds;
    s->read += sounds ? read : 0.0;
    s->cells += sounds;
}

/* ---- What Esses is told ---- */

/* dB: the levels at which this sibilant would come out with this curve. */
static void level_with(const ChainSibilant *heard, const Curve *curve, double level[SIBILANCE_BANDS])
{
    const double change = heard->reduced - curve_reduction(curve, heard->read);
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        level[b] = heard->level[b] + change;
}

static void hear_of(ChainSibilants *s, Esses *to, const Curve *now, const Curve *ahead, bool known)
{
    ChainSibilant one = {.read = s->cells ? s->read / s->cells : 0.0};
    double level[SIBILANCE_BANDS];
    one.reduced = curve_reduction(now, one.read);
    esses_last_level(to, one.level);
    if (s->count < SIBILANTS_MOST)
        s->heard[s->count++] = one;
    else
        s->all = false;
    level_with(&one, ahead, level);
    if (known)
        esses_note(to, level);
}

static void build_one(ChainSibilants *s, Esses *to)
{
    double level[SIBILANCE_BANDS];
    level_with(&s->heard[s->at++], &s->curve, level);
    esses_memory_add(&s->built, level);
    if (s->at < s->count)
        return;
    s->building = false;
    esses_replace(to, &s->built);
}

static bool is_due(const ChainSibilants *s, const Curve *curve)
{
    const bool moved = !(fabs(curve->threshold - s->curve.threshold) <= THRESHOLD_MOVED) ||
                       curve->slope != s->curve.slope || curve->knee != s->curve.knee;
    return s->all && s->count >= ESSES_ENOUGH && moved;
}

void sibilants_tick(ChainSibilants *s, Esses *to, double read, const Curve *now, const Curve *ahead, bool known)
{
    follow(s, to->sibilance.sounding, read);
    if (to->passed_over)
        hear_of(s, to, now, ahead, known);
    s->building = s->building && s->all;
    if (s->building) {
        build_one(s, to);
    } else if (known && is_due(s, ahead)) {
        esses_memory_clear(&s->built);
        s->building = true;
        s->at = 0;
        s->curve = *ahead;
    }
}
