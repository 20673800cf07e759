#include "decay.h"

#include "fall_line.h"
#include "units.h"

#define RISE_DB          4.0 /* dB over the lowest: the fall is over */
#define LEAST_DEPTH      20.0
#define STARTS_UNDER_TOP 12.0
#define ENDS_OVER_NOISE  6.0
#define MOST_FITTED      25.0
#define LEAST_SPAN       8.0      /* dB that are left to fit a line to, at least */
#define NOISE_RISE       0.02     /* dB a frame */
#define FRAME_TIME       0.01     /* s */
#define SILENT_DB        (-140.0) /* what no level is taken to lie under */
#define SLOWEST_T60      8.0

enum { STILL = 20 };

static double power_at(const Decay *d, uint64_t frame)
{
    return (double)d->power[frame % DECAY_FRAMES];
}

/* Mean over DECAY_SMOOTH frames around one. */
static double level_at(const Decay *d, uint64_t frame)
{
    double sum = 0.0;
    for (uint64_t i = 0; i < DECAY_SMOOTH; ++i)
        sum += power_at(d, frame + i - DECAY_SMOOTH / 2) / DECAY_SMOOTH;
    return fmax(power_to_db(sum), SILENT_DB);
}

/* Of the frames from..to, less the noise. */
static FallLine line_of(const Decay *d, uint64_t from, uint64_t to, double noise)
{
    FallLine line = {0};
    for (uint64_t i = from; i <= to; ++i)
        fall_line_add(&line, (double)(i - from) * FRAME_TIME, power_at(d, i) - noise);
    return line;
}

static uint32_t times_of(double fitted, double off)
{
    const double deep = fitted / MOST_FITTED, worth = DECAY_TIMES * deep * deep * deep * deep / (1.0 + off * off);
    return (uint32_t)fmax(worth + 0.5, 1.0);
}

static DecayFound measure(const Decay *d)
{
    const double bottom = fmax(d->floor_db + ENDS_OVER_NOISE, d->low_db);
    const double start = fmin(d->top_db - STARTS_UNDER_TOP, bottom + MOST_FITTED), fitted = start - bottom;
    if (fitted < LEAST_SPAN)
        return (DecayFound){0};
    uint64_t from = d->top, to = d->low;
    while (from < d->low && level_at(d, from) > start)
        ++from;
    while (to > from && level_at(d, to) < bottom)
        --to;
    const FallLine line = line_of(d, from, to, db_to_power(d->floor_db));
    const bool brief = to - from < FALL_LINE_LEAST;
    const double t60 = brief ? (double)(to - from + 1) * FRAME_TIME * 60.0 / fitted : fall_line_time(&line);
    const double off = brief ? 0.0 : fall_line_off(&line);
    return t60 > 0.0 && t60 <= SLOWEST_T60 ? (DecayFound){t60, times_of(fitted, off)} : (DecayFound){0};
}

DecayFound decay_hear(Decay *d, const HearingFrame *frame)
{
    DecayFound found = {0};
    if (frame->silent) { /* a cut tells nothing */
        d->heard = 0;
        return found;
    }
    if (d->heard == 0)
        d->top_db = SILENT_DB - 1.0;
    d->power[d->heard++ % DECAY_FRAMES] = (float)frame->room;
    if (d->heard < DECAY_SMOOTH)
        return found;
    const uint64_t now = d->heard - 1 - DECAY_SMOOTH / 2;
    const double db = level_at(d, now);
    d->floor_db = d->heard == DECAY_SMOOTH ? db : fmin(d->floor_db + NOISE_RISE, db);
    const bool over =
        db > d->low_db + RISE_DB || now - d->low >= STILL || now - d->top >= DECAY_FRAMES - 2 * DECAY_SMOOTH;
    if (over) {
        if (d->voiced && d->top_db - d->low_db >= LEAST_DEPTH)
            found = measure(d);
        d->top_db = SILENT_DB - 1.0;
    }
    if (db >= d->top_db) {
        d->top_db = d->low_db = db;
        d->top = d->low = now;
        d->voiced = frame->hz > 0.0;
    } else if (db <= d->low_db) {
        d->low_db = db;
        d->low = now;
    }
    return found;
}
