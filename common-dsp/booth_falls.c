#include "booth_falls.h"

#include "fall_line.h"
#include "units.h"

#include <math.h>

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
    ROUNDS = 9,     /* halvings of the search */
};

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
    f->heard = f->first = f->last = 0;
    f->top_db = SILENT_DB - 1.0;
}

static double power_at(const BoothFalls *f, uint64_t frame)
{
    return (double)f->power[frame % BOOTH_HEARD];
}

/* dB: mean power of the SMOOTH frames around this one. */
static double level_at(const BoothFalls *f, uint64_t frame)
{
    double sum = 0.0;
    for (uint64_t i = 0; i < SMOOTH; ++i)
        sum += power_at(f, frame + i - SMOOTH / 2) / SMOOTH;
    return power_to_db(sum);
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

static bool measure(BoothFalls *f, double *seconds)
{
    const double bottom = fmax(f->floor_db + ENDS_OVER_NOISE, f->low_db);
    const double start = fmin(f->top_db - STARTS_UNDER_TOP, bottom + MOST_FITTED);
    if (start - bottom < LEAST_SPAN)
        return false;
    f->top_was = f->top_db;
    f->last = f->low;
    f->stopped = f->top;
    while (f->stopped < f->low && level_at(f, f->stopped) > f->top_db - STARTS_UNDER_TOP)
        ++f->stopped;
    f->first = f->stopped;
    while (f->first < f->low && level_at(f, f->first) > start)
        ++f->first;
    while (f->last > f->first && level_at(f, f->last) < bottom)
        --f->last;
    const uint64_t frames = f->last - f->first;
    *seconds = frames < FALL_LINE_LEAST ? (double)(frames + 1) * f->frame * 60.0 / (start - bottom) : fit(f);
    return *seconds > 0.0 && *seconds <= SLOWEST_DECAY;
}

static bool is_over(const BoothFalls *f, uint64_t now, double db)
{
    return db > f->low_db + RISE_DB || (double)(now - f->low) * f->frame >= STILL_TIME ||
           now - f->top >= BOOTH_HEARD - MODELLED - 2 * SMOOTH;
}

bool booth_falls_hear(BoothFalls *f, double power, double *seconds)
{
    if (power < db_to_power(SILENT_DB)) {
        booth_falls_reset(f);
        return false;
    }
    f->power[f->heard++ % BOOTH_HEARD] = (float)power;
    if (f->heard < SMOOTH)
        return false;
    const uint64_t now = f->heard - 1 - SMOOTH / 2;
    const double db = level_at(f, now);
    f->floor_db = f->heard == SMOOTH ? db : fmin(f->floor_db + NOISE_RISE * f->frame, db);
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

/* Late power at frame `at` by the model, in a room that keeps `keep` a frame and adds `feed`. From `stopped` on no
 * sound counts as early: if what the model leaves over there did, it would become late sound in its turn, and a small
 * feed would fit as well as the right one. */
static double late_at(const BoothFalls *f, uint64_t at, double keep, double feed)
{
    const uint64_t kept = at + 1 < MODELLED ? at + 1 : MODELLED, from = at + 1 - kept;
    double early[MODELLED] = {0}, late = 0.0;
    for (uint64_t i = 0; i < kept; ++i) {
        late = keep * late + (i >= f->lag ? feed * early[i - f->lag] : 0.0);
        early[i] = from + i < f->stopped ? fmax(power_at(f, from + i) - late, 0.0) : 0.0;
    }
    return late;
}

double booth_falls_late(const BoothFalls *f, double seconds)
{
    uint64_t from = f->stopped + f->lag;
    while (from < f->last && level_at(f, from) > f->top_was - STARTS_UNDER_TOP)
        ++from;
    const uint64_t to = from + POINTS < f->last ? from + POINTS : f->last;
    if (to < from + FALL_LINE_LEAST)
        return 0.0;
    double sum = 0.0, low = LEAST_LATE_RATIO, high = MOST_LATE_RATIO;
    for (uint64_t i = from; i <= to; ++i)
        sum += power_to_db(power_at(f, i));
    const double wanted = db_to_power(sum / (double)(to - from + 1)), keep = booth_keep(f->frame, seconds);
    for (int i = 0; i < ROUNDS; ++i) {
        const double middle = sqrt(low * high);
        if (late_at(f, (from + to) / 2, keep, middle * (1.0 - keep)) < wanted)
            low = middle;
        else
            high = middle;
    }
    return sqrt(low * high);
}
