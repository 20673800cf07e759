#include "booth_falls.h"

#include "fall_line.h"
#include "units.h"

#include <math.h>

/* Set on the voices for tuning, not searched one by one. */
#define RISE_DB          4.0      /* dB over the fall's lowest level: such a rise ends it */
#define STILL_TIME       0.2      /* s without a new lowest level: ends the fall too */
#define STARTS_UNDER_TOP 15.0     /* dB under the top: from here down the voice has stopped */
#define ENDS_OVER_NOISE  6.0      /* dB over the noise: the fit ends here */
#define MOST_FITTED      25.0     /* dB: most that a line is fitted to */
#define LEAST_SPAN       9.0      /* dB: least that a line is fitted to */
#define NOISE_RISE       2.0      /* dB/s: rise of the noise's estimate */
#define SILENT_DB        (-110.0) /* dB: a frame under this is a cut, and what came before tells nothing */
#define SLOWEST_DECAY    8.0      /* s: longest decay time that counts */
#define LEAST_LATE_RATIO 1e-3     /* late over early energy: the search begins here */
#define MOST_LATE_RATIO  10.0     /* late over early energy: and ends here */

enum {
    SMOOTH = 3,     /* frames that a level is the mean of */
    POINTS = 12,    /* frames of a fall that late sound is read from */
    MODELLED = 200, /* frames that the model of late sound looks back */
};

_Static_assert(BOOTH_SEARCH_FRAMES < 2 * SMOOTH, "a search is over before the frames that it reads are overwritten");

double booth_keep(double frame, double seconds)
{
    return exp(-6.0 * log(10.0) * frame / seconds);
}

void booth_falls_init(BoothFalls *f, double frame, double late_after)
{
    *f = (BoothFalls){.frame = frame, .lag = (uint32_t)fmax(1.0, floor(late_after / frame))};
    booth_falls_reset(f);
}

void booth_falls_reset(BoothFalls *f)
{
    f->began = f->stopped = f->first = f->last = f->heard;
    f->top_db = SILENT_DB - 1.0;
}

static double power_at(const BoothFalls *f, uint64_t frame)
{
    return (double)f->power[frame % BOOTH_HEARD];
}

/* Mean power of the SMOOTH frames around this one. */
static double mean_at(const BoothFalls *f, uint64_t frame)
{
    return fall_mean(f->power, BOOTH_HEARD, frame, SMOOTH);
}

/* The first frame from `frame` on, before `end`, whose level is not over db; or `end`. */
static uint64_t not_over(const BoothFalls *f, uint64_t frame, uint64_t end, double db)
{
    const double power = db_to_power(db);
    while (frame < end && mean_at(f, frame) > power)
        ++frame;
    return frame;
}

/* s: decay time of a line through the fitted frames, less the noise. */
static double fit(const BoothFalls *f)
{
    const double noise = db_to_power(f->floor_db);
    FallLine line = {0};
    for (uint64_t i = f->first; i <= f->last; ++i)
        fall_line_add(&line, (double)(i - f->first) * f->frame, power_at(f, i) - noise);
    return fall_line_time(&line);
}

/* The last frame up to `last`, after `first`, whose level is not under db; or `first`. */
static uint64_t last_over(const BoothFalls *f, uint64_t first, uint64_t last, double db)
{
    const double power = db_to_power(db);
    while (last > first && mean_at(f, last) < power)
        --last;
    return last;
}

static bool measure(BoothFalls *f, double *seconds)
{
    const double bottom = fmax(f->floor_db + ENDS_OVER_NOISE, f->low_db);
    const double start = fmin(f->top_db - STARTS_UNDER_TOP, bottom + MOST_FITTED);
    if (start - bottom < LEAST_SPAN)
        return false;
    f->top_was = f->top_db;
    f->stopped = not_over(f, f->top, f->low, f->top_db - STARTS_UNDER_TOP);
    f->first = not_over(f, f->stopped, f->low, start);
    f->last = f->low;
    if (bottom > f->low_db)
        f->last = last_over(f, f->first, f->low, bottom);
    const uint64_t frames = f->last - f->first;
    *seconds = frames < FALL_LINE_LEAST ? (double)(frames + 1) * f->frame * 60.0 / (start - bottom) : fit(f);
    return *seconds > 0.0 && *seconds <= SLOWEST_DECAY;
}

static bool is_over(const BoothFalls *f, uint64_t now, double db)
{
    return db > f->low_db + RISE_DB || (double)(now - f->low) * f->frame >= STILL_TIME ||
           now - f->top >= BOOTH_HEARD - MODELLED - 2 * SMOOTH; /* leaves time for the search */
}

bool booth_falls_hear(BoothFalls *f, double power, double *seconds)
{
    if (power < db_to_power(SILENT_DB)) {
        booth_falls_reset(f);
        return false;
    }
    f->power[f->heard++ % BOOTH_HEARD] = (float)power;
    if (f->heard - f->began < SMOOTH)
        return false;
    const uint64_t now = f->heard - 1 - SMOOTH / 2;
    const double db = power_to_db(mean_at(f, now));
    f->floor_db = f->heard - f->began == SMOOTH ? db : fmin(f->floor_db + NOISE_RISE * f->frame, db);
    bool found = false;
    if (f->top_db > SILENT_DB && is_over(f, now, db)) {
        found = measure(f, seconds);
        f->top_db = SILENT_DB - 1.0;
    }
    if (db >= f->top_db) {
        f->top_db = f->low_db = db;
        f->top = f->low = now;
    } else if (db <= f->low_db) {
        f->low_db = db;
        f->low = now;
    }
    return found;
}

/* ---- How much is late ---- */

/* Late power at the search's frame by the model, in a room that adds `feed` a frame. From `stopped` on no sound counts
 * as early: if what the model leaves over there did, it would become late sound in its turn, and a small feed would fit
 * as well as the right one. */
static double late_at(const BoothSearch *s, const BoothFalls *f, double feed)
{
    double early[MODELLED] = {0}, late = 0.0;
    for (uint64_t i = 0; i < s->end - s->first; ++i) {
        late = s->keep * late + (i >= f->lag ? feed * early[i - f->lag] : 0.0);
        early[i] = s->first + i < s->stopped ? fmax(power_at(f, s->first + i) - late, 0.0) : 0.0;
    }
    return late;
}

bool booth_search_begin(BoothSearch *s, const BoothFalls *f, double seconds)
{
    *s = (BoothSearch){0};
    const uint64_t from = not_over(f, f->stopped + f->lag, f->last, f->top_was - STARTS_UNDER_TOP);
    const uint64_t to = from + POINTS < f->last ? from + POINTS : f->last;
    if (to < from + FALL_LINE_LEAST)
        return false;
    double sum = 0.0;
    for (uint64_t i = from; i <= to; ++i)
        sum += power_to_db(power_at(f, i));
    const uint64_t end = (from + to) / 2 + 1;
    *s = (BoothSearch){.left = BOOTH_SEARCH_STEPS,
                       .first = end - f->began < MODELLED ? f->began : end - MODELLED,
                       .stopped = f->stopped,
                       .end = end,
                       .wanted = db_to_power(sum / (double)(to - from + 1)),
                       .keep = booth_keep(f->frame, seconds),
                       .low = LEAST_LATE_RATIO,
                       .high = MOST_LATE_RATIO};
    return true;
}

bool booth_search_step(BoothSearch *s, const BoothFalls *f, double *late)
{
    const double middle = sqrt(s->low * s->high);
    if (late_at(s, f, middle * (1.0 - s->keep)) < s->wanted)
        s->low = middle;
    else
        s->high = middle;
    *late = sqrt(s->low * s->high);
    return --s->left == 0;
}
