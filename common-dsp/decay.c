#include "decay.h"

#include "units.h"

#define RISE        4.0 /* dB over the lowest: the fall is over */
#define DEEP        20.0
#define UNDER_TOP   12.0
#define OVER_NOISE  6.0
#define FITTED      25.0
#define LINE_SPAN   8.0      /* dB that are left to fit a line to, at least */
#define CREEP       0.02     /* dB a frame */
#define FRAME       0.01     /* s */
#define SILENT_DB   (-140.0) /* what no level is taken to lie under */
#define SLOWEST_T60 8.0

enum { STILL = 20, LEAST_POINTS = 4 };

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

typedef struct {
    double t60, off; /* s, of which it is none: it does not fall; dB, standard deviation */
} Line;

/* Sums over the levels of a line, less the noise. */
typedef struct {
    double n, t, y, tt, ty, yy;
} Sums;

static Sums sum_levels(const Decay *d, uint64_t from, uint64_t to, double noise)
{
    Sums s = {0};
    for (uint64_t i = from; i <= to; ++i) {
        const double left = power_at(d, i) - noise;
        if (left <= 0.0)
            continue;
        const double t = (double)(i - from) * FRAME, y = power_to_db(left);
        s.n += 1.0;
        s.t += t;
        s.y += y;
        s.tt += t * t;
        s.ty += t * y;
        s.yy += y * y;
    }
    return s;
}

/* Least squares. */
static Line fit(const Sums *s)
{
    const double spread = s->n * s->tt - s->t * s->t, along = s->n * s->ty - s->t * s->y;
    if (!(spread > 0.0))
        return (Line){0};
    const double squares = s->n * s->yy - s->y * s->y - along * along / spread;
    return (Line){.t60 = -60.0 * spread / along, .off = sqrt(fmax(squares, 0.0)) / s->n};
}

static uint32_t times_of(double fitted, double off)
{
    const double deep = fitted / FITTED, worth = DECAY_TIMES * deep * deep * deep * deep / (1.0 + off * off);
    return (uint32_t)fmax(worth + 0.5, 1.0);
}

static DecayFound measure(const Decay *d)
{
    const double bottom = fmax(d->floor_db + OVER_NOISE, d->low_db);
    const double start = fmin(d->top_db - UNDER_TOP, bottom + FITTED), fitted = start - bottom;
    if (fitted < LINE_SPAN)
        return (DecayFound){0};
    uint64_t from = d->top, to = d->low;
    while (from < d->low && level_at(d, from) > start)
        ++from;
    while (to > from && level_at(d, to) < bottom)
        --to;
    const Sums sums = sum_levels(d, from, to, db_to_power(d->floor_db));
    const Line steep = {.t60 = (double)(to - from + 1) * FRAME * 60.0 / fitted};
    const Line line = to - from < LEAST_POINTS ? steep : fit(&sums);
    const bool room = line.t60 > 0.0 && line.t60 <= SLOWEST_T60;
    return room ? (DecayFound){line.t60, times_of(fitted, line.off)} : (DecayFound){0};
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
    d->floor_db = d->heard == DECAY_SMOOTH ? db : fmin(d->floor_db + CREEP, db);
    const bool over = db > d->low_db + RISE || now - d->low >= STILL || now - d->top >= DECAY_FRAMES - 2 * DECAY_SMOOTH;
    if (over) {
        if (d->voiced && d->top_db - d->low_db >= DEEP)
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
