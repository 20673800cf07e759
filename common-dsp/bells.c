#include "bells.h"

#include "cholesky.h"

#include <math.h>
#include <string.h>

/* The method behind them: resonance.md ("Bells"). Heights of 5.5 to 7 dB, and spreads of 1.5 to 2.8 dB, do as well. */
#define LOWEST_BELL_HZ    160.0 /* Hz: frequency of place 0 */
#define STEPS_PER_OCTAVE  24.0  /* places in an octave */
#define SHAPE_DB          6.0   /* dB: height of the bell whose shape stands for all */
#define EXPECTED_HEIGHT   6.5   /* dB: mean of the prior on a bell's height */
#define HEIGHT_SPREAD     2.0   /* dB: standard deviation of that prior */
#define ENOUGH_HARMONICS  4.0   /* harmonics: a bin is used when it holds more */
#define HARMONICS_CROSSED 6.0   /* harmonics: a place is tried when the half-power band of CROSSING_Q holds as many */
#define CROSSING_Q        3.0   /* Q of that band */
#define LEAST_DISTANCE    0.33  /* octaves: least distance between two bells */
#define LOG_ODDS_LIMIT    300.0 /* natural logarithm: keeps every likelihood within a double */

enum { REACH = 4 }; /* places to each side that belong to the same bell: 1/6 octave */

/* Cost of each step: thousands of instructions, as callgrind counts them over a take of notes. */
#define PRIOR_COST(row) (0.2 + 0.42 * (row))
#define ROW_COST(row)   (0.2 + 0.0035 * (row) * (row)) /* one row of the factor */
#define TRY_COST        5.0                            /* one bell at one place */
#define CLOSED_COST     0.5                            /* the same at a closed place */
#define CHOOSE_COST     20.0
#define TAKE_OUT_COST   8.0

double bells_hz(uint32_t place)
{
    return LOWEST_BELL_HZ * exp2(place / STEPS_PER_OCTAVE);
}

double bells_q(uint32_t width)
{
    return 2.0 * exp2(0.5 * width);
}

/* Level at `hz` of a bell of SHAPE_DB, in dB per dB of its height. */
static double shape(double hz, double centre, double q)
{
    const double x = hz / centre - centre / hz, gain = pow(10.0, SHAPE_DB / 40.0);
    const double over = x * x + gain * gain / (q * q), under = x * x + 1.0 / (gain * gain * q * q);
    return 10.0 * log10(over / under) / SHAPE_DB;
}

void bells_init(BellSearch *s)
{
    memset(s, 0, sizeof *s);
    for (uint32_t w = 0; w < BELLS_WIDTHS; ++w)
        for (int32_t d = 0; d < BELLS_APART; ++d) {
            const int32_t apart = d + BELLS_APART_LEAST, bin = apart > 0 ? (apart + 1) / 2 : 0;
            s->shape[w][d] = (float)shape(curve_hz(bin), bells_hz((uint32_t)(2 * bin - apart)), bells_q(w));
        }
    s->phase = BELLS_DONE;
}

static bool is_crossed(const FixedCurve *c, double hz)
{
    double sum = 0.0;
    for (uint32_t b = 0; b < CURVE_BINS; ++b) {
        const double x = curve_hz(b) / hz;
        if (fabs(x - 1.0 / x) * CROSSING_Q <= 1.0)
            sum += c->weight[b];
    }
    return sum >= HARMONICS_CROSSED;
}

void bells_start(BellSearch *s, const FixedCurve *curve, uint32_t wanted)
{
    s->curve = *curve;
    s->recordings = recordings_like(curve->misfit);
    s->wanted = wanted;
    s->at = s->bins = 0;
    s->found = (Bells){0};
    memset(s->closed, 0, sizeof s->closed);
    for (uint32_t b = 0; b < CURVE_BINS; ++b)
        if (curve->weight[b] > ENOUGH_HARMONICS)
            s->bin[s->bins++] = b;
    for (uint32_t i = 0; i < s->bins; ++i)
        s->left[i] = curve->level[s->bin[i]] - recordings_mean(&s->recordings, s->bin[i]);
    s->phase = s->bins ? BELLS_PRIOR : BELLS_DONE;
}

static double *covariance_row(BellSearch *s, uint32_t row)
{
    return s->covariance + (size_t)row * (row + 1) / 2;
}

/* Goes on to the next of `n` steps; after the last, to the next phase. */
static void step_on(BellSearch *s, uint32_t n, BellsPhase phase)
{
    if (++s->at < n)
        return;
    s->at = 0;
    s->phase = phase;
}

static void step_prior(BellSearch *s)
{
    double *const row = covariance_row(s, s->at);
    const uint32_t bin = s->bin[s->at];
    s->cost = PRIOR_COST(s->at);
    for (uint32_t j = 0; j <= s->at; ++j)
        row[j] = recordings_covariance(&s->recordings, bin, s->bin[j]);
    row[s->at] += recordings_noise(&s->recordings, bin, s->curve.weight[bin]);
    step_on(s, s->bins, BELLS_FACTOR);
}

static void step_factor(BellSearch *s)
{
    s->cost = ROW_COST(s->at);
    if (s->at == 0)
        memcpy(s->white, s->left, sizeof s->white);
    memcpy(s->factor + (size_t)s->at * s->bins, covariance_row(s, s->at), (s->at + 1) * sizeof *s->factor);
    cholesky_row(s->factor, s->bins, s->at, s->white);
    step_on(s, s->bins, BELLS_TRY);
}

/* ---- One place ---- */

static void try_bell(BellSearch *s, uint32_t place, uint32_t width)
{
    const double prior = 1.0 / (HEIGHT_SPREAD * HEIGHT_SPREAD);
    const float *const shape_here = s->shape[width] - BELLS_APART_LEAST - (int32_t)place;
    double x[CURVE_BINS], product = EXPECTED_HEIGHT * prior;
    for (uint32_t i = 0; i < s->bins; ++i)
        x[i] = (double)shape_here[(size_t)2 * s->bin[i]];
    const double firm = cholesky_forward(s->factor, s->bins, x) + prior;
    for (uint32_t i = 0; i < s->bins; ++i)
        product += x[i] * s->white[i];
    s->height[place][width] = product / firm;
    s->doubt[place][width] = 1.0 / firm;
    s->odds[place][width] =
        fmin(0.5 * (product * product / firm - EXPECTED_HEIGHT * EXPECTED_HEIGHT * prior) + 0.5 * log(prior / firm),
             LOG_ODDS_LIMIT);
}

/* One bell a step, at places where enough was heard and no bell was found yet. */
static void step_try(BellSearch *s)
{
    const uint32_t place = s->at / BELLS_WIDTHS, width = s->at % BELLS_WIDTHS;
    s->cost = s->closed[place] ? CLOSED_COST : TRY_COST;
    if (width == 0) {
        s->closed[place] = s->closed[place] || !is_crossed(&s->curve, bells_hz(place));
        s->like[place] = 0.0;
    }
    if (!s->closed[place]) {
        try_bell(s, place, width);
        s->like[place] += exp(s->odds[place][width]) / BELLS_WIDTHS;
    }
    step_on(s, BELLS_PLACES * BELLS_WIDTHS, BELLS_CHOOSE);
}

/* ---- The likeliest ---- */

static uint32_t reach_from(uint32_t place)
{
    return place > REACH ? place - REACH : 0;
}

static uint32_t reach_to(uint32_t place)
{
    return place + REACH < BELLS_PLACES ? place + REACH : BELLS_PLACES - 1;
}

/* The middle of the likeliest stretch of places; BELLS_PLACES: all are closed. */
static uint32_t likeliest(const double like[BELLS_PLACES], const bool closed[BELLS_PLACES], double *sum)
{
    uint32_t best = BELLS_PLACES;
    *sum = 0.0;
    for (uint32_t p = 0; p < BELLS_PLACES; ++p) {
        double here = 0.0;
        for (uint32_t k = reach_from(p); k <= reach_to(p); ++k)
            here += like[k];
        if (closed[p] || here <= *sum)
            continue;
        *sum = here;
        best = p;
    }
    return best;
}

/* The bell of a stretch: frequency and height are means weighted by likelihood, the width is the likeliest one. */
static Bell mean_bell(const BellSearch *s, uint32_t middle, double sum, double *doubt)
{
    double octave = 0.0, height = 0.0, most = -INFINITY;
    uint32_t width = 0;
    for (uint32_t p = reach_from(middle); p <= reach_to(middle); ++p) {
        octave += s->like[p] / sum * log2(bells_hz(p));
        for (uint32_t w = 0; w < BELLS_WIDTHS && !s->closed[p]; ++w) {
            height += exp(s->odds[p][w]) / (BELLS_WIDTHS * sum) * s->height[p][w];
            if (s->odds[p][w] <= most)
                continue;
            most = s->odds[p][w];
            width = w;
            *doubt = s->doubt[p][w];
        }
    }
    return (Bell){exp2(octave), height, bells_q(width), log(sum / (2 * REACH + 1))};
}

static void step_choose(BellSearch *s)
{
    double sum;
    const uint32_t middle = likeliest(s->like, s->closed, &sum);
    s->cost = CHOOSE_COST;
    s->phase = BELLS_DONE;
    if (middle == BELLS_PLACES)
        return;
    const Bell bell = mean_bell(s, middle, sum, &s->taken_doubt);
    s->found.at[s->found.count++] = bell;
    if (s->found.count == s->wanted)
        return;
    for (uint32_t i = 0; i < s->bins; ++i) {
        s->taken[i] = shape(curve_hz(s->bin[i]), bell.hz, bell.q);
        s->left[i] -= bell.height * s->taken[i];
    }
    for (uint32_t p = 0; p < BELLS_PLACES; ++p)
        s->closed[p] = s->closed[p] || fabs(log2(bells_hz(p) / bell.hz)) < LEAST_DISTANCE;
    s->at = 0;
    s->phase = BELLS_TAKE_OUT;
}

/* The bell found counts as known from here on, its height with the doubt that is left. */
static void step_take_out(BellSearch *s)
{
    s->cost = TAKE_OUT_COST;
    for (uint32_t i = 0; i < s->bins; ++i)
        for (uint32_t j = 0; j <= i; ++j)
            covariance_row(s, i)[j] += s->taken_doubt * s->taken[i] * s->taken[j];
    s->phase = BELLS_FACTOR;
}

bool bells_step(BellSearch *s)
{
    static void (*const step[])(BellSearch *) = {
        [BELLS_PRIOR] = step_prior,   [BELLS_FACTOR] = step_factor,     [BELLS_TRY] = step_try,
        [BELLS_CHOOSE] = step_choose, [BELLS_TAKE_OUT] = step_take_out,
    };
    if (s->phase != BELLS_DONE)
        step[s->phase](s);
    return s->phase == BELLS_DONE;
}
