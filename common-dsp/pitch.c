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
#define HOP            0.010  /* seconds; a window is PITCH_BLOCKS of them */
#define FAR_LAG        0.100  /* five periods of 50 Hz, six of 60 Hz */
#define FAR_SPREAD     0.0125

enum { MARGIN = 4 }; /* lags on either side that interpolation reads */

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

static size_t past_size(const Pitch *p)
{
    return (size_t)p->span + p->hop;
}

static bool allocate(Pitch *p)
{
    p->past = calloc(2 * past_size(p), sizeof *p->past);
    p->squares = calloc(p->span, sizeof *p->squares);
    p->sum = calloc(2 * (size_t)p->hop + 1, sizeof *p->sum);
    p->likeness = calloc(all_lags(p), sizeof *p->likeness);
    bool all = p->past && p->squares && p->sum && p->likeness;
    for (uint32_t b = 0; b < PITCH_BLOCKS; b++) {
        p->product[b] = calloc(all_lags(p), sizeof *p->product[b]);
        all = all && p->product[b];
    }
    return all;
}

bool pitch_init(Pitch *p, double rate)
{
    *p = (Pitch){0};
    if (!dsp_rate_ok(rate))
        return false;
    p->decimate = (uint32_t)(rate / 8000.0);
    p->rate = rate / p->decimate;
    p->hop = (uint32_t)lround(HOP * p->rate / ROWS_STEP) * ROWS_STEP;
    p->window = PITCH_BLOCKS * p->hop;
    p->near = lag_range(p->rate / SEARCH_HIGHEST - 1, p->rate / SEARCH_LOWEST + 1);
    p->far = lag_range(p->rate * FAR_LAG * (1 - FAR_SPREAD), p->rate * FAR_LAG * (1 + FAR_SPREAD));
    p->span = (last_lag(p->far) + p->window + (last_lag(p->near) + 1) / 2 + 3) / 4 * 4;
    design_filter(p);
    if (!allocate(p) || !thin_init(&p->thin, p->decimate, TOP, rate)) {
        pitch_done(p);
        return false;
    }
    pitch_reset(p);
    return true;
}

void pitch_done(Pitch *p)
{
    thin_done(&p->thin);
    free(p->past);
    free(p->squares);
    free(p->sum);
    free(p->likeness);
    for (uint32_t b = 0; b < PITCH_BLOCKS; b++)
        free(p->product[b]);
    *p = (Pitch){0};
}

void pitch_reset(Pitch *p)
{
    thin_reset(&p->thin);
    memset(p->state, 0, sizeof p->state);
    memset(p->past, 0, 2 * past_size(p) * sizeof *p->past);
    p->frame = p->past;
    memset(p->squares, 0, p->span * sizeof *p->squares);
    for (uint32_t b = 0; b < PITCH_BLOCKS; b++)
        memset(p->product[b], 0, all_lags(p) * sizeof *p->product[b]);
    memset(p->column, 0, sizeof p->column);
    p->past_at = p->hop_at = p->lags_done = p->newest = p->newest_block = 0;
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

/* Four sums at a time, so that one addition in four waits for the one before it. span: a multiple of four. */
static void add_up_squares(const float *x, double *sum, uint32_t span)
{
    double all = 0;
    for (uint32_t i = 0; i < span; i += 4) {
        const double a = square(x + i), ab = a + square(x + i + 1);
        const double c = square(x + i + 2), cd = c + square(x + i + 3);
        sum[i] = all;
        sum[i + 1] = all + a;
        sum[i + 2] = all + ab;
        sum[i + 3] = all + (ab + c);
        all += ab + cd;
    }
    sum[span] = all;
}

/* The blocks that have come to an end with this hop. */
static void add_up_blocks(Pitch *p)
{
    const uint32_t last = p->span - p->hop, first = last - p->hop + 1; /* starts */
    memmove(p->squares, p->squares + p->hop, first * sizeof *p->squares);
    add_up_squares(p->frame + p->span - 2 * (size_t)p->hop, p->sum, 2 * p->hop);
    for (uint32_t i = 1; i <= p->hop; i++)
        p->squares[first - 1 + i] = p->sum[i + p->hop] - p->sum[i];
}

static void freeze(Pitch *p)
{
    p->frame = p->past + p->past_at + p->hop;
    add_up_blocks(p);
    p->newest_block = p->newest_block + 1 < PITCH_BLOCKS ? p->newest_block + 1 : 0;
    p->lags_done = 0;
}

static double energy_at(const Pitch *p, uint32_t start)
{
    const double *block = p->squares + start;
    return block[0] + block[p->hop] + block[2 * (size_t)p->hop];
}

/* The window whose middle is the frame's centre: where both windows of lag 0 lie. */
static uint32_t centre_start(const Pitch *p)
{
    return p->span - p->window - (last_lag(p->near) + 1) / 2;
}

/* Where two windows that are compared start. */
typedef struct {
    uint32_t early, late;
} Windows;

static Windows windows_at(const Pitch *p, uint32_t i)
{
    const uint32_t centre = centre_start(p);
    if (i >= p->near.count)
        return (Windows){.early = centre - (p->far.first + i - p->near.count), .late = centre};
    const uint32_t lag = p->near.first + i;
    return (Windows){.early = centre - lag / 2, .late = centre - lag / 2 + lag};
}

static float likeness(const Pitch *p, Windows w, float product)
{
    const double energy = energy_at(p, w.early) + energy_at(p, w.late);
    if (energy < 2 * PITCH_SILENCE * p->window)
        return 0;
    return (float)(2.0 * (double)product / energy);
}

/* Of a lag: the newest block's product takes the place of the one that has left the window. */
static float window_product(Pitch *p, uint32_t i, float newest)
{
    p->product[p->newest_block][i] = newest;
    return p->product[0][i] + p->product[1][i] + p->product[2][i];
}

/* ROWS_PAIRS of them; the last lag takes the places of those that are missing. */
static void some_lags(Pitch *p)
{
    const uint32_t first = p->lags_done, last = all_lags(p) - 1;
    const float *const newest = p->frame + p->window - p->hop;
    const float *early[ROWS_PAIRS], *late[ROWS_PAIRS];
    Windows w[ROWS_PAIRS];
    float product[ROWS_PAIRS];
    for (uint32_t k = 0; k < ROWS_PAIRS; ++k) {
        w[k] = windows_at(p, first + k < last ? first + k : last);
        early[k] = newest + w[k].early;
        late[k] = newest + w[k].late;
    }
    rows_products(early, late, p->hop, product);
    for (uint32_t k = 0; k < ROWS_PAIRS && first + k <= last; ++k)
        p->likeness[first + k] = likeness(p, w[k], window_product(p, first + k, product[k]));
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
    now->level = energy_at(p, centre_start(p)) / p->window;
    now->repeat = find_repeat(p);
    extend_paths(before, now);
    decide(p);
}

/* ---- Samples ---- */

static void keep_sample(Pitch *p, double x)
{
    const double y = svf_step(&p->filter[1], &p->state[1], svf_step(&p->filter[0], &p->state[0], x));
    p->past[p->past_at] = p->past[p->past_at + past_size(p)] = (float)y;
    p->past_at = p->past_at + 1 < past_size(p) ? p->past_at + 1 : 0;
}

static void end_hop(Pitch *p)
{
    p->hop_at = 0;
    finish_frame(p);
    freeze(p);
    for (uint32_t i = 0; i < PITCH_SECTIONS; i++)
        svf_hush(&p->state[i]);
}

/* n: at most a cell, and no further than the end of the frame. As many lags as keep in step with the hop. */
static void take(Pitch *p, const float *in, uint32_t n)
{
    float x[DSP_CELL];
    const uint32_t kept = thin_run(&p->thin, in, n, x);
    for (uint32_t i = 0; i < kept; i++)
        keep_sample(p, (double)x[i]);
    p->hop_at += kept;
    while (p->lags_done * p->hop < all_lags(p) * p->hop_at)
        some_lags(p);
    if (p->hop_at == p->hop)
        end_hop(p);
}

uint32_t pitch_process(Pitch *p, const float *in, uint32_t n, bool *ready)
{
    const uint32_t left = (p->hop - p->hop_at) * p->decimate - p->thin.phase, all = n < left ? n : left;
    for (uint32_t at = 0; at < all; at += DSP_CELL)
        take(p, in + at, all - at < DSP_CELL ? all - at : DSP_CELL);
    *ready = all == left;
    return all;
}
