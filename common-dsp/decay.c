#include "decay.h"

#include "fall_line.h"
#include "units.h"

/* How they were settled: decay.md. */
#define RISE_DB          4.0      /* dB over the fall's lowest level: such a rise ends it */
#define LEAST_DEPTH      20.0     /* dB from top to lowest level: least of a fall that counts */
#define STARTS_UNDER_TOP 12.0     /* dB under the top: from here down the voice has stopped */
#define ENDS_OVER_NOISE  6.0      /* dB over the noise: the fit ends here */
#define MOST_FITTED      25.0     /* dB: most that a line is fitted to */
#define LEAST_SPAN       8.0      /* dB: least that a line is fitted to */
#define NOISE_RISE       0.02     /* dB a frame: rise of the noise's estimate */
#define FRAME_TIME       0.01     /* s */
#define SILENT_DB        (-140.0) /* dB: lower levels count as this */
#define SLOWEST_T60      8.0      /* s: longest decay time that counts */

enum { STILL = 20 }; /* frames without a new lowest level: end a fall too */

static double power_at(const Decay *d, uint64_t frame)
{
    return (double)d->power[frame % DECAY_FRAMES];
}

/* dB: mean power of the DECAY_SMOOTH frames around this one. */
static double level_at(const Decay *d, uint64_t frame)
{
    return fmax(power_to_db(fall_mean(d->power, DECAY_FRAMES, frame, DECAY_SMOOTH)), SILENT_DB);
}

/* The line through the frames from..to, less the noise. */
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
    if (frame->silent) { /* a cut: what came before tells nothing */
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
