#include "mains.h"

#include "units.h"

#define NO_LEVEL UNITS_DB_FLOOR
/* Set on the voices for tuning with hums and rooms (hum.md); singly searched where it says so. */
#define STEADY_WITHIN       3.0  /* dB either side of a hum's median level; also most a hum can exceed its rests by */
#define AUDIBLE_UNDER_VOICE 60.0 /* dB under the voice: a fainter hum is not reported */
#define WINDOWS_SHARE       0.2  /* least share of windows within STEADY_WITHIN; 0.15: the same hums, 0.3: two fewer */
#define WINDOW_TIME         0.09 /* s, least time from one window to the next */
#define FRAME_TIME          0.01 /* s */
#define CUT_OUT_TIMES       4.0 /* ratio of digital silence to windows: over it, only ends of words are left of rests */
#define QUIET_STEP          0.25 /* dB, step of the quietest window's level */
#define QUIET_NEAR          6.0  /* dB over the quietest window: louder windows are not looked at */
#define QUIETER_BY          5.0  /* dB under the quietest window so far: a quieter one empties both tallies */

enum { ENOUGH = 3 }; /* windows, at least, in which a hum stands out */

const TallyScale mains_scale = MAINS_SCALE;

/* The number of windows in which the hum stands out. */
static double out_of(const Tally *t)
{
    return t ? tally_from(t, &mains_scale, mains_scale.low + mains_scale.step) : 0.0;
}

/* The median level of those windows, dB. */
static double middle_of(const Tally *t)
{
    return tally_below(t, &mains_scale, tally_total(t, &mains_scale) - 0.5 * out_of(t));
}

/* A family's level: the median of the windows in which it stands out, dB; NO_LEVEL: there are too few, or they do not
 * agree. *near: how many lie within STEADY_WITHIN of it. */
static double level_of(const MainsHeard *h, uint32_t family, double *near)
{
    const Tally *t = h->family[family];
    *near = 0.0;
    if (!t)
        return NO_LEVEL;
    const double windows = tally_total(t, &mains_scale);
    if (out_of(t) < ENOUGH || h->silent * FRAME_TIME > CUT_OUT_TIMES * (WINDOW_TIME * windows))
        return NO_LEVEL;
    const double middle = middle_of(t);
    *near = (double)tally_from(t, &mains_scale, middle - STEADY_WITHIN) -
            (double)tally_from(t, &mains_scale, middle + STEADY_WITHIN);
    return *near >= ENOUGH && *near >= WINDOWS_SHARE * windows ? middle : NO_LEVEL;
}

double mains_rests(const MainsHeard *h)
{
    const double under = h->voice > NO_LEVEL ? h->voice - MAINS_REST_UNDER : HUGE_VAL;
    const double blocks =
        (double)tally_total(h->rests, &mains_scale) - (double)tally_from(h->rests, &mains_scale, under);
    return blocks > 0.0 ? tally_below(h->rests, &mains_scale, 0.5 * blocks) : HUGE_VAL;
}

MainsFound mains_found(const MainsHeard *h)
{
    double near_50, near_60;
    const double fifty = level_of(h, 0, &near_50), sixty = level_of(h, 1, &near_60);
    const bool is_sixty = sixty > NO_LEVEL && (!(fifty > NO_LEVEL) || near_60 > near_50);
    const double level = is_sixty ? sixty : fifty,
                 least = h->voice > NO_LEVEL ? h->voice - AUDIBLE_UNDER_VOICE : NO_LEVEL;
    if (!(level > NO_LEVEL) || level > mains_rests(h) + STEADY_WITHIN || level < least)
        return (MainsFound){0.0, NO_LEVEL};
    return (MainsFound){is_sixty ? 60.0 : 50.0, level};
}

MainsFound mains_suspected(const MainsHeard *h)
{
    const double fifty = out_of(h->family[0]), sixty = out_of(h->family[1]);
    if (fifty == 0.0 && sixty == 0.0)
        return (MainsFound){0.0, NO_LEVEL};
    return (MainsFound){sixty > fifty ? 60.0 : 50.0, middle_of(h->family[sixty > fifty])};
}

bool mains_window(uint32_t *quiet, Tally *fifty, Tally *sixty, double db)
{
    const uint32_t level = (uint32_t)dsp_clamp((db - UNITS_DB_FLOOR) / QUIET_STEP, 1.0, TALLY_MOST);
    if (*quiet && level > *quiet + (uint32_t)(QUIET_NEAR / QUIET_STEP))
        return false;
    if (*quiet > level + (uint32_t)(QUIETER_BY / QUIET_STEP))
        *fifty = *sixty = (Tally){0};
    *quiet = *quiet && *quiet < level ? *quiet : level;
    return true;
}
