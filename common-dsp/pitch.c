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
    p->near_starts = (PitchLags){.first = p->centre - near / 2, .count = near + 1};
    p->far_starts = (PitchLags){.first = p->centre - far, .count = p->far.count};
}

/* An array with a float for each lag, all 0. */
static float *room_for_lags(const Pitch *p)
{
    return calloc(p->lags, sizeof(float));
}

static bool allocate(Pitch *p)
{
    p->lags = (p->near.count + p->far.count + ROWS_PAIRS - 1) / ROWS_PAIRS * ROWS_PAIRS;
    p->frame = calloc((size_t)p->span + p->hop, sizeof *p->frame);
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
static float both(const Pitch *p, double early, double late)
{
    const double energy = early + late;
    return energy < 2 * PITCH_SILENCE * p->window ? HUGE_VALF : (float)energy;
}

static void weigh(Pitch *p)
{
    double energy[MOST_STARTS];
    const PitchLags near = p->near_starts, far = p->far_starts;
    sliding_energy(p->frame + near.first, p->window, near.count, energy);
    const double *const centre = energy + (p->centre - near.first);
    p->level = *centre;
    for (uint32_t i = 0; i < p->near.count; ++i) {
        const uint32_t lag = p->near.first + i;
        const double *const early = centre - lag / 2;
        p->energy[i] = both(p, early[0], early[lag]);
    }
    sliding_energy(p->frame + far.first, p->window, far.count, energy);
    for (uint32_t i = 0; i < far.count; ++i)
        p->energy[p->near.count + i] = both(p, energy[far.count - 1 - i], p->level);
}

static void freeze(Pitch *p)
{
    memmove(p->frame, p->frame + p->hop, p->span * sizeof *p->frame);
    weigh(p);
    p->lags_done = 0;
}

/* The newest hops of the two windows compared at far lag i, held to the last one. */
static void far_hops(const Pitch *p, const float *centre, uint32_t i, const float **early, const float **late)
{
    const uint32_t at = i - p->near.count, most = p->far.count - 1;
    *early = centre - p->far.first - (at < most ? at : most);
    *late = centre;
}

/* The newest hops of the windows compared at ROWS_PAIRS lags from i on. */
static void newest_hops(const Pitch *p, uint32_t i, const float **early, const float **late)
{
    const float *const centre = p->frame + p->centre + p->window - p->hop;
    const uint32_t near = i + ROWS_PAIRS <= p->near.count ? ROWS_PAIRS : i < p->near.count ? p->near.count - i : 0;
    for (uint32_t k = 0; k < near; ++k) {
        const uint32_t lag = p->near.first + i + k;
        early[k] = centre - lag / 2;
        late[k] = early[k] + lag;
    }
    for (uint32_t k = near; k < ROWS_PAIRS; ++k)
        far_hops(p, centre, i + k, &early[k], &late[k]);
}

/* Likeness at four lags, from the products over the newest hop and those kept from earlier frames. */
static void compare(Pitch *p, uint32_t i, Four newest)
{
    const Four last = four_load(p->last + i), window = four_add(four_load(p->earlier + i), newest);
    four_store(p->last + i, newest);
    four_store(p->earlier + i, four_add(last, newest));
    four_store(p->likeness + i, four_div(four_add(window, window), four_load(p->energy + i)));
}

/* Works on the next ROWS_PAIRS lags. */
static void some_lags(Pitch *p)
{
    const float *early[ROWS_PAIRS], *late[ROWS_PAIRS];
    float product[ROWS_PAIRS];
    newest_hops(p, p->lags_done, early, late);
    rows_products(early, late, p->hop, product);
    compare(p, p->lags_done, four_load(product));
    p->lags_done += ROWS_PAIRS;
}

static void finish_frame(Pitch *p)
{
    while (p->lags_done < p->lags)
        some_lags(p);
    p->out = pitch_path_add(&p->path, &(PitchLikeness){p->likeness, p->near, p->far, p->level / p->window});
}

/* ---- Samples ---- */

static void keep_sample(Pitch *p, float x)
{
    p->frame[p->span + p->hop_at++] = x;
    /* Spreads the lags evenly over the hop. */
    while (p->lags_done * p->hop < p->lags * p->hop_at)
        some_lags(p);
    if (p->hop_at < p->hop)
        return;
    p->hop_at = 0;
    finish_frame(p);
    freeze(p);
    for (uint32_t i = 0; i < PITCH_SECTIONS; i++)
        svf_hush(&p->state[i]);
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
    float x[DSP_CELL];
    const uint32_t kept = thin_run(&p->thin, in, n, x);
    filter(p, x, kept);
    for (uint32_t i = 0; i < kept; i++)
        keep_sample(p, x[i]);
}

uint32_t pitch_process(Pitch *p, const float *in, uint32_t n, bool *ready)
{
    const uint32_t left = (p->hop - p->hop_at) * p->decimate - p->thin.phase, all = n < left ? n : left;
    for (uint32_t at = 0; at < all; at += DSP_CELL)
        take(p, in + at, all - at < DSP_CELL ? all - at : DSP_CELL);
    *ready = all == left;
    return all;
}
