#include "tick_finder.h"

#include "clicks.h"
#include "linear_prediction.h"
#include "rows.h"
#include "units.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

/* Set on the voices for tuning: of clicks planted in them 94.1 % leave less than what is around them, and 2.4 a minute
 * are taken from their singing as it is (test_ticks_voices). One at a time: EDGE_TIMES halved 93.8 %, RING_SHARE halved
 * 94.4 % and doubled 88.9 %, ONSET_DB at 6 dB 94.1 % and at 12 dB 94.7 %, but 3.4 a minute. The rest was not searched
 * one by one. */
#define PIECE_TIME     0.0005 /* s, of a piece */
#define CROSSING_TIMES 8.0    /* times the energy missing: a gap that ends near a zero crossing is louder inside */
#define EDGE_TIMES     2.0    /* times the mean error power around: a stronger piece belongs to the tick */
#define ONSET_DB       8.5    /* dB: a sound that gets this much louder begins */
#define BURST_STRICTER 8.0    /* dB that a tick before such a beginning stands out more: no consonant's burst does */
#define RING_SHARE     0.28   /* share of a tick's power that rings on a piece later: 11 dB down a millisecond */

enum {
    LAGS = TICK_ORDER + 1,
    LAG_STEPS = (LAGS + ROWS_PAIRS - 1) / ROWS_PAIRS,
    STEPS = 1 + LAG_STEPS + 1 + TICK_PIECES, /* of a frame's work: window, autocorrelation, predictor, errors */
    BACK = 2,       /* frames: how far behind the newest whole frame the one being judged lies */
    GAP_BEFORE = 5, /* pieces before the strongest that may belong to the tick and are not compared */
    GAP_AFTER = 9,  /* the same after it */
    GAP = 5,        /* pieces: longest gap of missing samples */
    AHEAD = 16,     /* pieces that `missing` is cleared ahead: more than a cell has */
    NEIGHBOURS = 6, /* pieces on either side, of which a tick's is the strongest */
    LOUDEST = 10,   /* pieces (5 ms) over which loudness before and after is averaged */
};

void tick_finder_init(TickFinder *f, double rate)
{
    memset(f, 0, sizeof *f);
    f->piece = (uint32_t)(rate * PIECE_TIME);
    f->frame = TICK_PIECES * f->piece;
    for (uint32_t i = 0; i < 2 * f->frame; ++i)
        f->window[i] = (float)(0.5 - 0.5 * cos(DSP_PI * (i + 0.5) / f->frame));
}

/* All from `last` on is of what was heard. */
void tick_finder_reset(TickFinder *f)
{
    memset((char *)f + offsetof(TickFinder, last), 0, sizeof *f - offsetof(TickFinder, last));
}

/* ---- The predictor ---- */

/* Copies n samples from number `first` on, which may lie before the reset. */
static void past(const TickFinder *f, uint64_t first, uint32_t n, float *to)
{
    const uint32_t at = (uint32_t)(first % TICK_PAST), room = TICK_PAST - at, some = n < room ? n : room;
    memcpy(to, f->past + at, some * sizeof *to);
    memcpy(to + some, f->past, (n - some) * sizeof *to);
}

/* Puts the window over the last two whole frames. */
static void shape(TickFinder *f)
{
    past(f, (f->frames - 2) * f->frame, 2 * f->frame, f->shaped);
    for (uint32_t i = 0; i < 2 * f->frame; ++i)
        f->shaped[i] *= f->window[i];
}

/* Makes the predictor from the two windows that end with these two frames. */
static void predict(const TickFinder *f, uint64_t before, uint64_t after, double *a)
{
    double alike[LAGS];
    for (uint32_t k = 0; k < LAGS; ++k)
        alike[k] = f->alike[before % TICK_KEPT][k] + f->alike[after % TICK_KEPT][k];
    linear_prediction(alike, TICK_ORDER, a);
}

/* ---- The error ---- */

/* Mean power of the prediction error in a piece. */
static double left_of(const TickFinder *f, uint64_t piece, const double *predictor)
{
    float x[TICK_ORDER + TICK_PIECE] = {0};
    past(f, piece * f->piece - TICK_ORDER, f->piece + TICK_ORDER, x);
    return linear_prediction_error(predictor, TICK_ORDER, x + TICK_ORDER, f->piece);
}

static double at(const double *error, uint64_t piece)
{
    return error[piece % TICK_RING];
}

static double most(const double *error, uint64_t from, uint64_t to)
{
    double highest = 0.0;
    for (uint64_t i = from; i <= to; ++i)
        highest = fmax(highest, at(error, i));
    return highest;
}

static double mean(const double *error, uint64_t from, uint64_t to)
{
    double sum = 0.0;
    for (uint64_t i = from; i <= to; ++i)
        sum += at(error, i);
    return sum / (double)(to - from + 1);
}

/* Finds the tick's pieces, and one on either side, and how strong it is in each. The error shows a tick's beginning
 * better than its end, since the predictor follows what rings: so it is taken to ring down at RING_SHARE. */
static void bound(const double *error, uint64_t peak, uint32_t longest, Tick *t, uint64_t *first)
{
    const double least = EDGE_TIMES * t->around;
    uint64_t from = peak;
    while (from + TICK_EARLY > peak + 1 && at(error, from - 1) > least)
        --from;
    *first = from - 1;
    t->error[0] = at(error, *first);
    uint64_t to = from;
    for (double ring = at(error, peak); to < from + longest && (to < peak || fmax(ring, at(error, to)) > least); ++to) {
        t->error[to - *first] = to < peak ? at(error, to) : fmax(ring, at(error, to));
        ring *= to < peak ? 1.0 : RING_SHARE;
    }
    t->error[to - *first] = at(error, to);
    t->pieces = (uint32_t)(to - *first) + 1;
}

bool tick_stands_out(const double *error, uint64_t piece, double over, uint32_t longest, Tick *tick, uint64_t *first)
{
    const double here = at(error, piece);
    if (here < most(error, piece - NEIGHBOURS, piece + NEIGHBOURS))
        return false;
    const double before = most(error, piece - TICK_BEFORE, piece - GAP_BEFORE);
    const double after = most(error, piece + GAP_AFTER, piece + TICK_AFTER), strongest = fmax(before, after);
    if (!(before > 0.0 && after > 0.0) || here < strongest * db_to_power(over))
        return false;
    tick->over = power_to_db(here / strongest);
    tick->around = 0.5 * (mean(error, piece - TICK_BEFORE, piece - GAP_BEFORE) +
                          mean(error, piece + GAP_AFTER, piece + TICK_AFTER));
    bound(error, piece, longest, tick, first);
    return true;
}

/* The strongest mean of LOUDEST pieces. */
static double loudest(const double *power, uint64_t from, uint64_t to)
{
    double highest = 0.0;
    for (uint64_t i = from; i + LOUDEST <= to + 1; ++i)
        highest = fmax(highest, mean(power, i, i + LOUDEST - 1));
    return highest;
}

double tick_rise(const double *power, uint64_t at)
{
    return power_to_db(loudest(power, at + GAP_AFTER, at + TICK_LATER)) -
           power_to_db(loudest(power, at - TICK_BEFORE, at - GAP_BEFORE));
}

/* ---- Frames ---- */

/* Does the error come from missing samples? A gap is only known when it has ended. */
static bool is_damage(const TickFinder *f, uint64_t piece, double error)
{
    double missing = 0.0;
    for (uint64_t i = piece - 1; i <= piece + GAP; ++i)
        missing += CROSSING_TIMES * at(f->missing, i);
    const double gain = linear_prediction_gain(f->a[piece / TICK_PIECES % TICK_KEPT], TICK_ORDER);
    return clicks_is_damage(error * f->piece, gain, missing);
}

/* Damage is kept as no stronger than the piece before it: so it is no tick and hides none. */
static void keep_error(TickFinder *f, uint64_t piece, double error)
{
    const double before = at(f->error, piece - 1);
    f->error[piece % TICK_RING] = error > before && is_damage(f, piece, error) ? before : error;
}

static bool judge(const TickFinder *f, double over, uint32_t longest, Tick *tick)
{
    uint64_t first;
    if (f->pieces < TICK_BEFORE + TICK_AFTER + 1)
        return false;
    const uint64_t piece = f->pieces - 1 - TICK_AFTER;
    if (!tick_stands_out(f->error, piece, over, longest, tick, &first) ||
        tick->over < over + (tick_rise(f->heard_power, piece) > ONSET_DB ? BURST_STRICTER : 0.0))
        return false;
    tick->from = first * f->piece;
    tick->n = tick->pieces * f->piece;
    const uint64_t first_frame = first / TICK_PIECES, last_frame = (first + tick->pieces - 1) / TICK_PIECES;
    predict(f, first_frame, last_frame + 3, tick->a);
    return true;
}

/* Frame number `frames` - 1 has ended; the frame BACK before it gets its predictor and errors. */
static bool work(TickFinder *f, uint32_t step, double over, uint32_t longest, Tick *tick)
{
    const uint64_t back = f->frames - 1 - BACK;
    double *const a = f->a[back % TICK_KEPT];
    if (step == 0)
        shape(f);
    else if (step <= LAG_STEPS)
        linear_prediction_lags(f->shaped, 2 * f->frame, ROWS_PAIRS * (step - 1), f->alike[f->frames % TICK_KEPT]);
    else if (f->frames <= (uint64_t)2 * BACK)
        return false;
    else if (step == LAG_STEPS + 1)
        predict(f, back, f->frames, a);
    else {
        f->pieces = back * TICK_PIECES + step - LAG_STEPS - 2;
        keep_error(f, f->pieces, left_of(f, f->pieces, a));
        ++f->pieces;
        return judge(f, over, longest, tick);
    }
    return false;
}

void tick_finder_hear(TickFinder *f, const float *x, uint32_t n)
{
    double *const power = &f->heard_power[f->heard / f->piece % TICK_RING], sum = f->heard % f->piece ? *power : 0.0;
    for (uint32_t i = 0; i < n; ++i) {
        const float step = x[i] - f->last;
        f->past[f->heard++ % TICK_PAST] = step;
        sum += (double)step * (double)step;
        f->last = x[i];
    }
    *power = sum;
}

void tick_finder_miss(TickFinder *f, uint64_t piece, double energy)
{
    f->missing[piece % TICK_RING] += energy;
}

bool tick_finder_step(TickFinder *f, double over, uint32_t longest, Tick *tick)
{
    bool found = false;
    f->missing[(f->heard / f->piece + AHEAD) % TICK_RING] = 0.0;
    const uint32_t pieces = (uint32_t)((f->heard - f->frames * f->frame) / f->piece);
    for (work_grant(&f->pace, STEPS); f->frames >= 2 && work_next(&f->pace); work_did(&f->pace, TICK_PIECES))
        found |= work(f, f->done++, over, longest, tick);
    if (pieces == TICK_PIECES) {
        ++f->frames;
        f->done = 0;
    }
    return found;
}
