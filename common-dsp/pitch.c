#include "pitch.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "design.h"
#include "four_math.h"
#include "rows.h"
#include "two.h"

/* The search range is a little wider than that of a voice, so that a hum at 50 Hz is not taken for a voice at 100 Hz.
 */
#define SEARCH_LOWEST  45.0   /* Hz */
#define SEARCH_HIGHEST 1250.0 /* Hz */
#define TOP_HZ         2200.0 /* Hz, low-pass before decimation, 6 dB down */
#define TILT_HZ        150.0  /* Hz, first-order high-pass */
#define HOP_TIME       0.010  /* s from frame to frame; a window is PITCH_HOPS hops */
#define FAR_LAG_TIME   0.100  /* s, lag of `repeat`: five periods of 50 Hz, six of 60 Hz */
#define FAR_SPREAD     0.0125 /* share of FAR_LAG_TIME searched on either side of it */

enum {
    MARGIN = 4,        /* lags on either side that interpolation reads */
    MOST_STARTS = 400, /* most window positions around the centre: lags of up to 16 kHz / SEARCH_LOWEST */
};

/* Limits of clarity, and prices of a path in units of clarity; our own (pitch.h). */
#define WEAKEST_PEAK     0.30 /* clarity: a lower peak is not a candidate */
#define UNVOICED_CLARITY 0.40 /* clarity of a pitch that costs as much as no pitch */
#define OCTAVE_PRICE     0.03 /* per octave that a candidate is lower */
#define JUMP_PRICE       0.35 /* per octave between successive frames */
#define VOICING_PRICE    0.14 /* for a change to or from "no pitch" */

/* High-passes: 60 Hz on, where the harmonics of any voice lie; rumble and room noise, mostly low, are attenuated. */
static void design_filter(Pitch *p)
{
    const Biquad rumble = design_high_pass(PITCH_LOWEST, 0.70710678118654752, p->rate);
    const Biquad tilt = design_high_pass_1(TILT_HZ, p->rate);
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

static void lay_windows(Pitch *p)
{
    const uint32_t near = last_lag(p->near), far = last_lag(p->far);
    p->span = (far + p->window + (near + 1) / 2 + 3) / 4 * 4;
    p->centre = p->span - p->window - (near + 1) / 2;
    p->near_starts = (PitchLags){.first = p->centre - near / 2, .count = near + 2};
    p->far_starts = (PitchLags){.first = p->centre - far, .count = p->far.count};
}

/* An array with a float for each lag, all 0. */
static float *room_for_lags(const Pitch *p)
{
    return calloc(p->lags, sizeof(float));
}

static uint32_t in_fours(uint32_t lags)
{
    return (lags + ROWS_PAIRS - 1) / ROWS_PAIRS * ROWS_PAIRS;
}

static bool allocate(Pitch *p)
{
    p->far_at = in_fours(p->near.count);
    p->lags = p->far_at + in_fours(p->far.count);
    p->frame = calloc((size_t)p->span + p->hop + 1, sizeof *p->frame); /* one more: thin_run() writes by pairs */
    p->energy = room_for_lags(p);
    p->last = room_for_lags(p);
    p->earlier = room_for_lags(p);
    p->likeness = room_for_lags(p);
    return p->frame && p->energy && p->last && p->earlier && p->likeness;
}

bool pitch_init(Pitch *p, double rate)
{
    *p = (Pitch){0};
    if (!dsp_rate_ok(rate))
        return false;
    p->decimate = (uint32_t)(rate / 8000.0);
    p->rate = rate / p->decimate;
    p->hop = (uint32_t)lround(HOP_TIME * p->rate / ROWS_STEP) * ROWS_STEP;
    p->window = PITCH_HOPS * p->hop;
    p->near = lag_range(p->rate / SEARCH_HIGHEST - 1, p->rate / SEARCH_LOWEST + 1);
    p->far = lag_range(p->rate * FAR_LAG_TIME * (1 - FAR_SPREAD), p->rate * FAR_LAG_TIME * (1 + FAR_SPREAD));
    lay_windows(p);
    design_filter(p);
    if (!allocate(p) || !thin_init(&p->thin, p->decimate, TOP_HZ, rate)) {
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
    free(p->last);
    free(p->earlier);
    free(p->likeness);
    *p = (Pitch){0};
}

static PitchColumn *next_column(Pitch *p)
{
    return &p->column[(p->newest + 1) % (PITCH_DELAY + 1)];
}

/* Its lags have still to be worked on. */
static void begin_frame(Pitch *p)
{
    PitchColumn *column = next_column(p);
    column->count = 1;
    column->candidate[0] = (PitchCandidate){.cost = (float)(1 - UNVOICED_CLARITY)};
    column->clarity = 0;
    p->lags_done = 0;
    p->next_peak = MARGIN;
    p->weighed = false;
}

void pitch_reset(Pitch *p)
{
    thin_reset(&p->thin);
    memset(p->state, 0, sizeof p->state);
    memset(p->frame, 0, ((size_t)p->span + p->hop) * sizeof *p->frame);
    memset(p->energy, 0, p->lags * sizeof *p->energy);
    memset(p->last, 0, p->lags * sizeof *p->last);
    memset(p->earlier, 0, p->lags * sizeof *p->earlier);
    p->level = 0;
    memset(p->column, 0, sizeof p->column);
    p->hop_at = p->newest = 0;
    for (uint32_t i = 0; i <= PITCH_DELAY; i++)
        p->column[i].count = 1; /* no pitch, at no cost */
    begin_frame(p);
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

/* Sum of the squares of n samples, a multiple of four; in four partial sums, so that no addition waits for another. */
static double energy_of(const float *x, uint32_t n)
{
    Two a = two_of(0, 0), b = a;
    for (size_t i = 0; i < n; i += 4) {
        const Two early = two_of((double)x[i], (double)x[i + 1]), late = two_of((double)x[i + 2], (double)x[i + 3]);
        a = two_add(a, two_mul(early, early));
        b = two_add(b, two_mul(late, late));
    }
    const Two all = two_add(a, b);
    return two_lane(all, 0) + two_lane(all, 1);
}

/* Change of a window's energy when it moves on by the sample x[0], and then by x[1]. */
static Two changes(const float *x, uint32_t window)
{
    const Two out = two_of((double)x[0], (double)x[1]);
    const Two in = two_of((double)x[window], (double)x[window + 1]);
    return two_sub(two_mul(in, in), two_mul(out, out));
}

/* Energies of the `count` windows (rounded up to a multiple of four) that start at x and at each sample after it. Four
 * at a time, so that only one addition in four waits for another. */
static void weigh_windows(const float *x, uint32_t window, uint32_t count, double *energy)
{
    double now = energy_of(x, window);
    for (size_t i = 0; i < count; i += 4, x += 4) {
        const Two early = changes(x, window), late = changes(x + 2, window);
        const double a = two_lane(early, 0), ab = a + two_lane(early, 1);
        const double c = two_lane(late, 0), cd = c + two_lane(late, 1);
        energy[i] = now;
        energy[i + 1] = now + a;
        energy[i + 2] = now + ab;
        energy[i + 3] = now + (ab + c);
        now += ab + cd;
    }
}

/* Energy of two windows together. Where they are silent it is infinite, so that their likeness is 0. */
static float both(double early, double late, double silence)
{
    const double energy = early + late;
    return energy < silence ? HUGE_VALF : (float)energy;
}

/* centre: energy of the window in the middle, with those of the starts around it. Lag by lag one of the two windows
 * moves. */
static void weigh_near(Pitch *p, const double *centre, double silence)
{
    float energy[MOST_STARTS];
    const uint32_t first = p->near.first / 2, last = last_lag(p->near) / 2;
    for (uint32_t half = first, i = 0; half <= last; ++half, i += 2) {
        const double early = *(centre - half);
        energy[i] = both(early, centre[half], silence);
        energy[i + 1] = both(early, centre[half + 1], silence);
    }
    memcpy(p->energy, energy + p->near.first % 2, p->near.count * sizeof *energy);
}

static void weigh(Pitch *p)
{
    double energy[MOST_STARTS];
    const PitchLags near = p->near_starts, far = p->far_starts;
    const double silence = 2 * PITCH_SILENCE * p->window, *const centre = energy + (p->centre - near.first);
    weigh_windows(p->frame + near.first, p->window, near.count, energy);
    p->level = *centre;
    weigh_near(p, centre, silence);
    weigh_windows(p->frame + far.first, p->window, far.count, energy);
    for (uint32_t i = 0; i < far.count; ++i)
        p->energy[p->far_at + i] = both(energy[far.count - 1 - i], p->level, silence);
}

/* Products over the newest hops of the two windows compared, at near lags from `from` on, up to `to` or to the last
 * four. Returns how far it got. */
static uint32_t near_products(const Pitch *p, const float *centre, uint32_t from, uint32_t to)
{
    const uint32_t whole = p->near.count / ROWS_PAIRS * ROWS_PAIRS, end = to < whole ? to : whole;
    if (from >= end)
        return from;
    rows_lags(centre, p->near.first + from, end - from, p->hop, p->likeness + from);
    return end;
}

/* The same at any ROWS_PAIRS lags from i on, held to the last one of those near and of those far. */
static void other_products(const Pitch *p, const float *centre, uint32_t i)
{
    const float *early[ROWS_PAIRS], *late[ROWS_PAIRS];
    const bool near = i < p->far_at;
    const PitchLags of = near ? p->near : p->far;
    const uint32_t first = near ? i : i - p->far_at;
    for (uint32_t at = first; at < first + ROWS_PAIRS; ++at) {
        const uint32_t lag = of.first + (at < of.count ? at : of.count - 1);
        early[at - first] = centre - (near ? lag / 2 : lag);
        late[at - first] = early[at - first] + lag;
    }
    rows_products(early, late, p->hop, p->likeness + i);
}

/* Likeness at four lags, from the products over the newest hop, which are there, and those kept from earlier frames. */
static void compare(Pitch *p, uint32_t i)
{
    const Four newest = four_load(p->likeness + i), last = four_load(p->last + i);
    const Four window = four_add(four_load(p->earlier + i), newest);
    four_store(p->last + i, newest);
    four_store(p->earlier + i, four_add(last, newest));
    four_store(p->likeness + i, four_div(four_add(window, window), four_load(p->energy + i)));
}

/* Works on the lags up to `to`, a multiple of ROWS_PAIRS. */
static void lags_up_to(Pitch *p, uint32_t to)
{
    const float *const centre = p->frame + p->centre + p->window - p->hop;
    for (uint32_t i = near_products(p, centre, p->lags_done, to); i < to; i += ROWS_PAIRS)
        other_products(p, centre, i);
    for (; p->lags_done < to; p->lags_done += ROWS_PAIRS)
        compare(p, p->lags_done);
}

/* The value half way between y[0] and y[1], by Lagrange's polynomial through eight points. */
static double between(const float *y)
{
    static const double tap[MARGIN] = {1225.0 / 2048, -245.0 / 2048, 49.0 / 2048, -5.0 / 2048};
    double sum = 0;
    for (int k = 0; k < MARGIN; k++)
        sum += tap[k] * ((double)y[-k] + (double)y[1 + k]);
    return sum;
}

/* The top near a peak y[0]: *offset in samples from y[0], and *height. A parabola through the largest of the points
 * half a sample apart and its neighbours. */
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

/* Inserts a candidate if it is among the best; candidates are kept in order, and number 0 is "no pitch". */
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

/* Likeness at a near lag, by its number: is it a candidate? */
static void look(const Pitch *p, uint32_t i, PitchColumn *column)
{
    const float *y = p->likeness + i;
    if (*y < (float)WEAKEST_PEAK || !is_peak(y))
        return;
    double offset, clarity;
    refine(y, &offset, &clarity);
    const double lag = p->near.first + i + offset, octave = log2(lag);
    const double cost = 1 - clarity + OCTAVE_PRICE * (octave - log2(p->rate / SEARCH_HIGHEST));
    column->clarity = fmax(column->clarity, clarity);
    offer(column, (PitchCandidate){lag, (float)octave, (float)clarity, (float)cost, 0});
}

/* Among the near lags that are done, as far as interpolation reaches. */
static void find_candidates(Pitch *p)
{
    const uint32_t done = p->lags_done < p->near.count ? p->lags_done : p->near.count;
    PitchColumn *column = next_column(p);
    for (; p->next_peak + MARGIN < done; p->next_peak++)
        look(p, p->next_peak, column);
}

static double find_repeat(const Pitch *p)
{
    double best = 0;
    for (uint32_t i = MARGIN; i + MARGIN < p->far.count; i++) {
        const float *y = p->likeness + p->far_at + i;
        double offset, height = 0;
        if (is_peak(y))
            refine(y, &offset, &height);
        best = fmax(best, height);
    }
    return best;
}

static float transition(const PitchCandidate *a, const PitchCandidate *b)
{
    if (a->lag <= 0 || b->lag <= 0)
        return (a->lag <= 0) == (b->lag <= 0) ? 0 : (float)VOICING_PRICE;
    return (float)JUMP_PRICE * fabsf(a->octave - b->octave);
}

static void extend_paths(const PitchColumn *before, PitchColumn *now)
{
    float cheapest = HUGE_VALF;
    for (uint32_t i = 0; i < now->count; i++) {
        PitchCandidate *c = &now->candidate[i];
        float best = HUGE_VALF;
        for (uint32_t j = 0; j < before->count; j++) {
            const float cost = before->candidate[j].cost + transition(&before->candidate[j], c);
            if (cost < best) {
                best = cost;
                c->from = j;
            }
        }
        c->cost += best;
        cheapest = c->cost < cheapest ? c->cost : cheapest;
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
                          .clarity = c->lag > 0 ? (double)c->clarity : column->clarity,
                          .level = column->level,
                          .repeat = column->repeat};
}

static void finish_frame(Pitch *p)
{
    const PitchColumn *before = &p->column[p->newest];
    PitchColumn *now = next_column(p);
    p->newest = (p->newest + 1) % (PITCH_DELAY + 1);
    now->level = p->level / p->window;
    now->repeat = find_repeat(p);
    extend_paths(before, now);
    decide(p);
}

/* ---- Samples ---- */

static void end_frame(Pitch *p)
{
    p->hop_at = 0;
    finish_frame(p);
    memmove(p->frame, p->frame + p->hop, p->span * sizeof *p->frame);
    begin_frame(p);
    for (uint32_t i = 0; i < PITCH_SECTIONS; i++)
        svf_hush(&p->state[i]);
}

/* How many lags are to be done by now: none in the first quarter of the hop, then as many in every part. */
static uint32_t lags_due(const Pitch *p)
{
    const uint32_t first = p->hop / 4, at = p->hop_at > first ? p->hop_at - first : 0, rest = p->hop - first;
    return in_fours((p->lags * at + rest - 1) / rest);
}

/* The work on the last whole frame. Its windows are weighed when an eighth of the hop has passed, in one go: not in the
 * cell in which the frame before it was finished, nor in the next. */
static void work(Pitch *p)
{
    if (!p->weighed && 8 * p->hop_at >= p->hop) {
        weigh(p);
        p->weighed = true;
    }
    lags_up_to(p, lags_due(p));
    find_candidates(p);
}

/* Filters in place with states in registers: in memory each sample would wait for the store of the one before. */
static void filter(Pitch *p, float *x, uint32_t n)
{
    SvfState first = p->state[0], second = p->state[1];
    for (uint32_t i = 0; i < n; i++)
        x[i] = (float)svf_step(&p->filter[1], &second, svf_step(&p->filter[0], &first, (double)x[i]));
    p->state[0] = first;
    p->state[1] = second;
}

/* Takes in n samples, at most a cell, and no further than the end of the frame. */
static void take(Pitch *p, const float *in, uint32_t n)
{
    float *const x = p->frame + p->span + p->hop_at;
    const uint32_t kept = thin_run(&p->thin, in, n, x);
    filter(p, x, kept);
    p->hop_at += kept;
    work(p);
    if (p->hop_at == p->hop)
        end_frame(p);
}

uint32_t pitch_process(Pitch *p, const float *in, uint32_t n, bool *ready)
{
    const uint32_t left = (p->hop - p->hop_at) * p->decimate - p->thin.phase, all = n < left ? n : left;
    for (uint32_t at = 0; at < all; at += DSP_CELL)
        take(p, in + at, all - at < DSP_CELL ? all - at : DSP_CELL);
    *ready = all == left;
    return all;
}
