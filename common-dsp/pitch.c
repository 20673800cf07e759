#include "pitch.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "design.h"
#include "four_math.h"
#include "rows.h"
#include "sliding_energy.h"

#define SEARCH_LOWEST 45.0   /* Hz, lower than any voice: see PITCH_SEARCH_HIGHEST */
#define TOP_HZ        2200.0 /* Hz, low-pass before decimation, 6 dB down */
#define TILT_HZ       150.0  /* Hz, first-order high-pass */
#define HOP_TIME      0.010  /* s from frame to frame; a window is PITCH_HOPS hops */
#define FAR_LAG_TIME  0.100  /* s, lag of `repeat`: five periods of 50 Hz, six of 60 Hz */
#define FAR_SPREAD    0.0125 /* share of FAR_LAG_TIME searched on either side of it */

enum { MOST_STARTS = 400 }; /* most window positions around the centre: lags of up to 16 kHz / SEARCH_LOWEST */

/* High-passes: 60 Hz on, where the harmonics of any voice lie; rumble and room noise, mostly low, are attenuated. */
static void design_filter(Pitch *p)
{
    const Biquad rumble = design_high_pass(PITCH_LOWEST, 0.70710678118654752, p->rate);
    const Biquad tilt = design_high_pass_1(TILT_HZ, p->rate);
    p->filter[0] = svf_from_biquad(&rumble);
    p->filter[1] = svf_from_biquad(&tilt);
    p->filters = two_svf_of(&p->filter[0], &p->filter[1]);
}

static PitchLags lag_range(double shortest, double longest)
{
    const uint32_t first = (uint32_t)shortest - PITCH_MARGIN;
    return (PitchLags){.first = first, .count = (uint32_t)ceil(longest) + PITCH_MARGIN - first + 1};
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
    p->near = lag_range(p->rate / PITCH_SEARCH_HIGHEST - 1, p->rate / SEARCH_LOWEST + 1);
    p->far = lag_range(p->rate * FAR_LAG_TIME * (1 - FAR_SPREAD), p->rate * FAR_LAG_TIME * (1 + FAR_SPREAD));
    lay_windows(p);
    design_filter(p);
    pitch_path_init(&p->path, p->rate);
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

void pitch_reset(Pitch *p)
{
    thin_reset(&p->thin);
    memset(p->state, 0, sizeof p->state);
    memset(p->frame, 0, ((size_t)p->span + p->hop) * sizeof *p->frame);
    memset(p->energy, 0, p->lags * sizeof *p->energy);
    memset(p->last, 0, p->lags * sizeof *p->last);
    memset(p->earlier, 0, p->lags * sizeof *p->earlier);
    p->level = 0;
    p->hop_at = p->lags_done = 0;
    p->weighed = false;
    pitch_path_reset(&p->path);
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
    sliding_energy(p->frame + near.first, p->window, near.count, energy);
    p->level = *centre;
    weigh_near(p, centre, silence);
    sliding_energy(p->frame + far.first, p->window, far.count, energy);
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

/* What is known of the frame; near lags up to lags_done. */
static PitchLikeness likeness(const Pitch *p)
{
    return (PitchLikeness){p->likeness, p->likeness + p->far_at, p->near, p->far, p->level / p->window};
}

/* ---- Samples ---- */

static void end_frame(Pitch *p)
{
    const PitchLikeness heard = likeness(p);
    p->out = pitch_path_add(&p->path, &heard);
    memmove(p->frame, p->frame + p->hop, p->span * sizeof *p->frame);
    p->hop_at = p->lags_done = 0;
    p->weighed = false;
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
    const PitchLikeness heard = likeness(p);
    pitch_path_look(&p->path, &heard, p->lags_done);
}

/* Filters in place: both sections side by side, the second one a sample behind the first. */
static void filter(Pitch *p, float *x, uint32_t n)
{
    if (n == 0)
        return;
    double once = svf_step(&p->filter[0], &p->state[0], (double)x[0]);
    TwoSvfState both = two_states_of(&p->state[0], &p->state[1]);
    for (uint32_t i = 1; i < n; ++i) {
        const Two y = two_svf_step(&p->filters, &both, two_of((double)x[i], once));
        once = two_lane(y, 0);
        x[i - 1] = (float)two_lane(y, 1);
    }
    two_states_split(&both, &p->state[0], &p->state[1]);
    x[n - 1] = (float)svf_step(&p->filter[1], &p->state[1], once);
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
