#include "pitch.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "design.h"
#include "rows.h"

/* What is looked at is a little wider than a voice's range, so that a hum at 50 Hz is told from a voice an octave up.
 */
#define SEARCH_LOWEST  45.0
#define SEARCH_HIGHEST 1250.0
#define TOP            2200.0 /* Hz, 6 dB down */
#define TILT           150.0  /* Hz, first order */
#define WINDOW         0.030  /* seconds */
#define HOP            0.010
#define FAR_LAG        0.100 /* five periods of 50 Hz, six of 60 Hz */
#define FAR_SPREAD     0.0125

enum {
    MARGIN = 4, /* lags on either side that interpolation reads */
    SUMS = 128, /* of squares, at a time */
};

#define WEAKEST       0.30 /* a peak below is no candidate */
#define UNVOICED      0.40 /* clarity that is worth as much as having no pitch */
#define OCTAVE_PRICE  0.03 /* per octave down */
#define JUMP_PRICE    0.35 /* per octave between frames */
#define VOICING_PRICE 0.14 /* to or from "no pitch" */

/* 60 Hz to 2 kHz, where the harmonics of any voice lie; rumble and room noise, which mostly lie low, held down. */
static void design_filter(Pitch *p)
{
    const Biquad rumble = design_high_pass(PITCH_LOWEST, 0.70710678118654752, p->rate);
    const Biquad tilt = design_high_pass_1(TILT, p->rate);
    p->filter[0] = svf_from_biquad(&rumble);
    p->filter[1] = svf_from_biquad(&tilt);
}

static PitchLags lag_range(double shortest, double longest)
{
    const uint32_t first = (uint32_t)shortest - MARGIN;
    return (PitchLags){.first = first, .count = (uint32_t)ceil(longest) + MARGIN - first + 1};
}

static uint32_t last_lag(PitchLags lags)
{
    return lags.first + lags.count - 1;
}

static uint32_t all_lags(const Pitch *p)
{
    return p->near.count + p->far.count;
}

static void lay_windows(Pitch *p)
{
    const uint32_t near = last_lag(p->near), far = last_lag(p->far);
    p->span = (far + p->window + (near + 1) / 2 + 3) / 4 * 4;
    p->centre = p->span - p->window - (near + 1) / 2;
    p->near_starts = (PitchLags){.first = p->centre - near / 2, .count = near + 1};
    p->far_starts = (PitchLags){.first = p->centre - far, .count = p->far.count};
}

static uint32_t all_starts(const Pitch *p)
{
    return p->near_starts.count + p->far_starts.count;
}

bool pitch_init(Pitch *p, double rate)
{
    *p = (Pitch){0};
    if (!dsp_rate_ok(rate))
        return false;
    p->decimate = (uint32_t)(rate / 8000.0);
    p->rate = rate / p->decimate;
    p->hop = (uint32_t)lround(HOP * p->rate);
    p->window = (uint32_t)lround(WINDOW * p->rate / ROWS_STEP) * ROWS_STEP;
    p->near = lag_range(p->rate / SEARCH_HIGHEST - 1, p->rate / SEARCH_LOWEST + 1);
    p->far = lag_range(p->rate * FAR_LAG * (1 - FAR_SPREAD), p->rate * FAR_LAG * (1 + FAR_SPREAD));
    lay_windows(p);
    design_filter(p);
    p->frame = calloc((size_t)p->span + p->hop, sizeof *p->frame);
    p->energy = calloc(all_starts(p), sizeof *p->energy);
    p->likeness = calloc(all_lags(p), sizeof *p->likeness);
    if (!thin_init(&p->thin, p->decimate, TOP, rate) || !p->frame || !p->energy || !p->likeness) {
        pitch_done(p);
        return false;
    }
    pitch_reset(p);
    return true;
}

void pitch_done(Pitch *p)
{
    thin_done(&p->thin);
    free(p->frame);
    free(p->energy);
    free(p->likeness);
    *p = (Pitch){0};
}

void pitch_reset(Pitch *p)
{
    thin_reset(&p->thin);
    memset(p->state, 0, sizeof p->state);
    memset(p->frame, 0, ((size_t)p->span + p->hop) * sizeof *p->frame);
    memset(p->energy, 0, all_starts(p) * sizeof *p->energy);
    memset(p->column, 0, sizeof p->column);
    p->hop_at = p->lags_done = p->newest = 0;
    for (uint32_t i = 0; i <= PITCH_DELAY; i++)
        p->column[i].count = 1; /* no pitch, at no cost */
    p->out = (PitchFrame){0};
}

uint32_t pitch_hop(const Pitch *p)
{
    return p->hop * p->decimate;
}

uint32_t pitch_lag(const Pitch *p)
{
    const uint32_t centre = (p->window + last_lag(p->near)) / 2;
    return (centre + p->hop * (PITCH_DELAY + 1) + THIN_TAPS / 2) * p->decimate;
}

/* ---- One frame ---- */

static double square(const float *x)
{
    return (double)*x * (double)*x;
}

/* sum[i]: of all before x[i], which is `all` at x[0]. Returns that at x[n], which is sum[n] too. Four sums at a time,
 * so that one addition in four waits for the one before it. n: a multiple of four. */
static double add_up_squares(const float *x, double all, double *sum, uint32_t n)
{
    for (uint32_t i = 0; i < n; i += 4) {
        const double a = square(x + i), ab = a + square(x + i + 1);
        const double c = square(x + i + 2), cd = c + square(x + i + 3);
        sum[i] = all;
        sum[i + 1] = all + a;
        sum[i + 2] = all + ab;
        sum[i + 3] = all + (ab + c);
        all += ab + cd;
    }
    sum[n] = all;
    return all;
}

/* The first of n samples from `at` on that lies in a stretch, and how many do. */
static PitchLags part_of(PitchLags stretch, uint32_t at, uint32_t n)
{
    const uint32_t first = at > stretch.first ? at : stretch.first, end = stretch.first + stretch.count;
    const uint32_t to = at + n < end ? at + n : end;
    return (PitchLags){.first = first, .count = first < to ? to - first : 0};
}

/* Of the sums from sample `at` on those where the windows begin, and what the sums have grown by where they end. */
static void weigh_windows(const double *sum, uint32_t at, uint32_t n, PitchLags starts, uint32_t window, double *energy)
{
    const PitchLags ends = {.first = starts.first + window, .count = starts.count};
    const PitchLags begin = part_of(starts, at, n), end = part_of(ends, at, n);
    if (begin.count)
        memcpy(energy + (begin.first - starts.first), sum + (begin.first - at), begin.count * sizeof *energy);
    for (uint32_t i = 0; i < end.count; ++i)
        energy[end.first - ends.first + i] = sum[end.first - at + i] - energy[end.first - ends.first + i];
}

static void weigh(Pitch *p)
{
    const PitchLags near = p->near_starts, far = p->far_starts;
    double sum[SUMS + 1], all = 0;
    for (uint32_t at = 0, n; at < p->span; at += n) {
        n = p->span - at < SUMS ? p->span - at : SUMS;
        all = add_up_squares(p->frame + at, all, sum, n);
        const uint32_t known = at + n == p->span ? n + 1 : n;
        weigh_windows(sum, at, known, near, p->window, p->energy);
        weigh_windows(sum, at, known, far, p->window, p->energy + near.count);
    }
}

static void freeze(Pitch *p)
{
    memmove(p->frame, p->frame + p->hop, p->span * sizeof *p->frame);
    weigh(p);
    p->lags_done = 0;
}

static double near_energy(const Pitch *p, uint32_t start)
{
    return p->energy[start - p->near_starts.first];
}

static double far_energy(const Pitch *p, uint32_t start)
{
    return p->energy[p->near_starts.count + start - p->far_starts.first];
}

/* Where two windows that are compared start, and the energy of both. */
typedef struct {
    uint32_t early, late;
    double energy;
} Windows;

static Windows windows_at(const Pitch *p, uint32_t i)
{
    const uint32_t centre = p->centre;
    if (i >= p->near.count) {
        const uint32_t early = centre - (p->far.first + i - p->near.count);
        return (Windows){.early = early, .late = centre, .energy = far_energy(p, early) + near_energy(p, centre)};
    }
    const uint32_t lag = p->near.first + i, early = centre - lag / 2, late = early + lag;
    return (Windows){.early = early, .late = late, .energy = near_energy(p, early) + near_energy(p, late)};
}

static float likeness(const Pitch *p, double energy, float product)
{
    if (energy < 2 * PITCH_SILENCE * p->window)
        return 0;
    return (float)(2.0 * (double)product / energy);
}

/* ROWS_PAIRS of them; the last lag takes the places of those that are missing. */
static void some_lags(Pitch *p)
{
    const uint32_t first = p->lags_done, last = all_lags(p) - 1;
    const float *early[ROWS_PAIRS], *late[ROWS_PAIRS];
    Windows w[ROWS_PAIRS];
    float product[ROWS_PAIRS];
    for (uint32_t k = 0; k < ROWS_PAIRS; ++k) {
        w[k] = windows_at(p, first + k < last ? first + k : last);
        early[k] = p->frame + w[k].early;
        late[k] = p->frame + w[k].late;
    }
    rows_products(early, late, p->window, product);
    for (uint32_t k = 0; k < ROWS_PAIRS && first + k <= last; ++k)
        p->likeness[first + k] = likeness(p, w[k].energy, product[k]);
    p->lags_done = first + ROWS_PAIRS <= last ? first + ROWS_PAIRS : last + 1;
}

/* Half way between y[0] and y[1]: the polynomial through eight points (Lagrange), exact where lags change slowly. */
static double between(const float *y)
{
    static const double tap[MARGIN] = {1225.0 / 2048, -245.0 / 2048, 49.0 / 2048, -5.0 / 2048};
    double sum = 0;
    for (int k = 0; k < MARGIN; k++)
        sum += tap[k] * ((double)y[-k] + (double)y[1 + k]);
    return sum;
}

/* Where the top by a peak lies, in samples from y[0], and how high: the largest of the points half a sample apart, and
 * a parabola through it and its neighbours. */
static void refine(const float *y, double *offset, double *height)
{
    const double point[5] = {(double)y[-1], between(y - 1), (double)y[0], between(y), (double)y[1]};
    const int top = point[1] > point[2] && point[1] >= point[3] ? 1 : point[3] > point[2] ? 3 : 2;
    const double a = point[top - 1], b = point[top], c = point[top + 1];
    const double bend = a - 2 * b + c;
    const double at = bend < 0 ? 0.5 * (a - c) / bend : 0;
    *offset = 0.5 * (top - 2 + at);
    *height = fmin(1, b - 0.25 * (a - c) * at);
}

static bool is_peak(const float *y)
{
    return y[0] > y[-1] && y[0] >= y[1];
}

/* Keeps the cheapest in order; place 0 is "no pitch". */
static void offer(PitchColumn *column, PitchCandidate c)
{
    uint32_t at = column->count;
    if (at > PITCH_CANDIDATES) {
        if (c.cost >= column->candidate[PITCH_CANDIDATES].cost)
            return;
        at = PITCH_CANDIDATES;
    } else {
        column->count++;
    }
    for (; at > 1 && column->candidate[at - 1].cost > c.cost; at--)
        column->candidate[at] = column->candidate[at - 1];
    column->candidate[at] = c;
}

static void find_candidates(const Pitch *p, PitchColumn *column)
{
    column->count = 1;
    column->candidate[0] = (PitchCandidate){.cost = 1 - UNVOICED};
    column->clarity = 0;
    for (uint32_t i = MARGIN; i + MARGIN < p->near.count; i++) {
        const float *y = p->likeness + i;
        if (*y < (float)WEAKEST || !is_peak(y))
            continue;
        double offset;
        PitchCandidate c = {0};
        refine(y, &offset, &c.clarity);
        c.lag = p->near.first + i + offset;
        c.octave = log2(c.lag);
        c.cost = 1 - c.clarity + OCTAVE_PRICE * (c.octave - log2(p->rate / SEARCH_HIGHEST));
        column->clarity = fmax(column->clarity, c.clarity);
        offer(column, c);
    }
}

static double find_repeat(const Pitch *p)
{
    double best = 0;
    for (uint32_t i = MARGIN; i + MARGIN < p->far.count; i++) {
        const float *y = p->likeness + p->near.count + i;
        double offset, height = 0;
        if (is_peak(y))
            refine(y, &offset, &height);
        best = fmax(best, height);
    }
    return best;
}

static double transition(const PitchCandidate *a, const PitchCandidate *b)
{
    if (a->lag <= 0 || b->lag <= 0)
        return (a->lag <= 0) == (b->lag <= 0) ? 0 : VOICING_PRICE;
    return JUMP_PRICE * fabs(a->octave - b->octave);
}

static void extend_paths(const PitchColumn *before, PitchColumn *now)
{
    double cheapest = HUGE_VAL;
    for (uint32_t i = 0; i < now->count; i++) {
        PitchCandidate *c = &now->candidate[i];
        double best = HUGE_VAL;
        for (uint32_t j = 0; j < before->count; j++) {
            const double cost = before->candidate[j].cost + transition(&before->candidate[j], c);
            if (cost < best) {
                best = cost;
                c->from = j;
            }
        }
        c->cost += best;
        cheapest = fmin(cheapest, c->cost);
    }
    for (uint32_t i = 0; i < now->count; i++)
        now->candidate[i].cost -= cheapest; /* so that costs do not grow without end */
}

static void decide(Pitch *p)
{
    const PitchColumn *column = &p->column[p->newest];
    uint32_t on = 0;
    for (uint32_t i = 1; i < column->count; i++)
        if (column->candidate[i].cost < column->candidate[on].cost)
            on = i;
    uint32_t at = p->newest;
    for (uint32_t back = 0; back < PITCH_DELAY; back++) {
        on = p->column[at].candidate[on].from;
        at = (at + PITCH_DELAY) % (PITCH_DELAY + 1);
    }
    column = &p->column[at];
    const PitchCandidate *c = &column->candidate[on];
    p->out = (PitchFrame){.hz = c->lag > 0 ? p->rate / c->lag : 0,
                          .clarity = c->lag > 0 ? c->clarity : column->clarity,
                          .level = column->level,
                          .repeat = column->repeat};
}

static void finish_frame(Pitch *p)
{
    while (p->lags_done < all_lags(p))
        some_lags(p);
    const PitchColumn *before = &p->column[p->newest];
    p->newest = (p->newest + 1) % (PITCH_DELAY + 1);
    PitchColumn *now = &p->column[p->newest];
    find_candidates(p, now);
    now->level = near_energy(p, p->centre) / p->window;
    now->repeat = find_repeat(p);
    extend_paths(before, now);
    decide(p);
}

/* ---- Samples ---- */

static void keep_sample(Pitch *p, double x)
{
    const double y = svf_step(&p->filter[1], &p->state[1], svf_step(&p->filter[0], &p->state[0], x));
    p->frame[p->span + p->hop_at++] = (float)y;
    /* As many lags as keep in step with the hop. */
    while (p->lags_done * p->hop < all_lags(p) * p->hop_at)
        some_lags(p);
    if (p->hop_at < p->hop)
        return;
    p->hop_at = 0;
    finish_frame(p);
    freeze(p);
    for (uint32_t i = 0; i < PITCH_SECTIONS; i++)
        svf_hush(&p->state[i]);
}

/* n: at most a cell, and no further than the end of the frame. */
static void take(Pitch *p, const float *in, uint32_t n)
{
    float x[DSP_CELL];
    const uint32_t kept = thin_run(&p->thin, in, n, x);
    for (uint32_t i = 0; i < kept; i++)
        keep_sample(p, (double)x[i]);
}

uint32_t pitch_process(Pitch *p, const float *in, uint32_t n, bool *ready)
{
    const uint32_t left = (p->hop - p->hop_at) * p->decimate - p->thin.phase, all = n < left ? n : left;
    for (uint32_t at = 0; at < all; at += DSP_CELL)
        take(p, in + at, all - at < DSP_CELL ? all - at : DSP_CELL);
    *ready = all == left;
    return all;
}
