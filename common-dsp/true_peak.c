#include "true_peak.h"

#include "rows.h"

#include <math.h>
#include <string.h>

enum {
    PAST = TRUE_PEAK_TAPS - 1,
    HERE = TRUE_PEAK_TAPS / 2 - 1,            /* place of a sample in the taps of the points that follow it */
    EIGHT = 2 * FOUR,                         /* samples whose points are worked out at once */
    REACH = (EIGHT + PAST + FOUR - 1) / FOUR, /* vectors of four samples that those points are made from */
    LINE =
        DSP_CELL - EIGHT + REACH * FOUR, /* samples: the past, a cell, and as far as the last eight reach beyond it */
};
_Static_assert((int)EIGHT == ROWS_STEP && (int)TRUE_PEAK_MORE == ROWS_FILTERS, "rows.h has them so");

#define KAISER_BETA 5.0   /* of the window; what it reaches: true_peak.h */
#define ROUNDING    1e-5f /* share of a sum of TRUE_PEAK_TAPS products that rounding can add, and more */

/* Not fmaxf: a compiler keeps this one in its vector registers. */
static inline float higher(float a, float b)
{
    return a > b ? a : b;
}

/* Modified Bessel function of the first kind, order 0, by its power series. */
static double bessel_i0(double x)
{
    double term = 1.0, sum = 1.0;
    for (int k = 1; term > 1e-16 * sum; ++k) {
        term *= x / (2.0 * k) * (x / (2.0 * k));
        sum += term;
    }
    return sum;
}

/* u: -1..1 over the window's length. */
static double kaiser(double u)
{
    return bessel_i0(KAISER_BETA * sqrt(fmax(0.0, 1.0 - u * u))) / bessel_i0(KAISER_BETA);
}

/* Taps, oldest sample first, for the point `share` of the way from the middle pair's older sample to its newer one. */
static void design(float *tap, double share)
{
    double h[TRUE_PEAK_TAPS], sum = 0.0;
    const int middle = TRUE_PEAK_TAPS / 2 - 1;
    for (int k = 0; k < TRUE_PEAK_TAPS; ++k) {
        const double x = k - (middle + share);
        h[k] = sin(DSP_PI * x) / (DSP_PI * x) * kaiser(2.0 * x / TRUE_PEAK_TAPS);
        sum += h[k];
    }
    for (int k = 0; k < TRUE_PEAK_TAPS; ++k)
        tap[k] = (float)(h[k] / sum);
}

/* The most that a point can reach, times the highest sample: each sample that high, with the sign of its tap. */
static float most_of(const float *tap)
{
    float sum = 0.f;
    for (int k = 0; k < TRUE_PEAK_TAPS; ++k)
        sum += fabsf(tap[k]);
    return sum * (1.f + ROUNDING);
}

void true_peak_init(TruePeak *p, double rate)
{
    memset(p, 0, sizeof *p);
    p->between = rate < 80000.0 ? 3 : rate < 160000.0 ? 1 : 0;
    p->most = 1.f;
    for (uint32_t i = 0; i < p->between; ++i) {
        design(p->tap[i], (i + 1.0) / (p->between + 1.0));
        p->most = higher(p->most, most_of(p->tap[i]));
    }
    true_peak_reset(p);
}

void true_peak_reset(TruePeak *p)
{
    memset(p->past, 0, sizeof p->past);
    memset(p->sound, 0, sizeof p->sound);
    memset(p->zeros, 0, sizeof p->zeros);
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        p->whole[c] = TRUE_PEAK_TAPS;
}

/* The highest of the points after each of eight samples; line: from PAST samples before the first. */
static void eight_points(const TruePeak *p, const float *line, float *here)
{
    float point[ROWS_FILTERS][ROWS_STEP];
    rows_slide(line, p->tap[0], TRUE_PEAK_TAPS, p->between, point);
    for (uint32_t t = 0; t < EIGHT; t += FOUR) {
        Four highest = four_abs(four_load(point[0] + t));
        for (uint32_t i = 1; i < p->between; ++i)
            highest = four_max(highest, four_abs(four_load(point[i] + t)));
        four_store(here + t, highest);
    }
}

/* Does the magnitude of any of 4 * fours samples exceed `limit`? */
static bool any_above(float limit, const float *line, uint32_t fours)
{
    Four most = four_all(0.f);
    for (uint32_t j = 0; j < fours; ++j)
        most = four_max(most, four_abs(four_load(line + (size_t)j * FOUR)));
    return four_bits(four_gather((FourBits){0}, four_sub(four_all(limit), most))) >> 31;
}

/* here[t]: the highest point after each of n samples; 0 where no point of its eight samples can lie above `enough`. */
static void points(const TruePeak *p, const float *line, float enough, float *here, uint32_t n)
{
    const float sample_enough = enough / p->most;
    memset(here, 0, DSP_CELL * sizeof *here);
    if (!p->between)
        return;
    if (!any_above(sample_enough, line, LINE / FOUR))
        return;
    for (uint32_t t = 0; t < n; t += EIGHT) {
        if (!any_above(sample_enough, line + t, REACH))
            continue;
        eight_points(p, line + t, here + t);
    }
}

/* Takes in the next sample, x. true: no gap lies within reach of the points that become known with it. */
static bool is_whole(TruePeak *p, uint32_t c, float x)
{
    const bool gap = x == 0.f ? p->zeros[c] > 0 : p->zeros[c] == 1 && p->sound[c] * x > 0.f;
    p->whole[c] = gap ? 0 : p->whole[c] + (p->whole[c] < TRUE_PEAK_TAPS);
    p->zeros[c] = x == 0.f ? 1 + (p->zeros[c] > 0) : 0;
    p->sound[c] = x == 0.f ? p->sound[c] : x;
    return p->whole[c] == TRUE_PEAK_TAPS;
}

/* true: no gap here or near. By far the most frequent case. */
static bool all_whole(TruePeak *p, uint32_t c, const float *in, float smallest, uint32_t n)
{
    if (p->whole[c] != TRUE_PEAK_TAPS || p->zeros[c] || !(smallest > 0.f))
        return false;
    p->sound[c] = in[n - 1];
    return true;
}

/* sample: those that the points in `here` follow. */
static void take_points(TruePeak *p, uint32_t c, const float *in, const float *sample, const float *here, float *peak,
                        uint32_t n)
{
    if (n % FOUR == 0 && all_whole(p, c, in, four_span(in, n).smallest, n)) {
        for (uint32_t t = 0; t < n; t += FOUR) {
            const Four most = four_max(four_abs(four_load(sample + t)), four_load(here + t));
            four_store(peak + t, four_max(four_load(peak + t), most));
        }
        return;
    }
    for (uint32_t t = 0; t < n; ++t) {
        const float magnitude = fabsf(sample[t]);
        peak[t] = higher(peak[t], is_whole(p, c, in[t]) ? higher(magnitude, here[t]) : magnitude);
    }
}

/* Keeps the last PAST samples, the newest last. */
static void keep_past(float *past, const float *in, uint32_t n)
{
    if (n >= PAST) {
        memcpy(past, in + n - PAST, PAST * sizeof *past);
        return;
    }
    memmove(past, past + n, (PAST - n) * sizeof *past);
    memcpy(past + PAST - n, in, n * sizeof *past);
}

void true_peak_points(TruePeak *p, uint32_t channel, const float *in, float enough, float *peak, uint32_t n)
{
    float line[LINE], here[DSP_CELL];
    memcpy(line, p->past[channel], sizeof p->past[channel]);
    dsp_copy(line + PAST, in, n);
    memset(line + PAST + n, 0, (LINE - PAST - n) * sizeof *line);
    keep_past(p->past[channel], in, n);
    points(p, line, enough, here, n);
    take_points(p, channel, in, line + HERE, here, peak, n);
}

bool true_peak_stays_under(const TruePeak *p, uint32_t channel, FourSpan span, float limit)
{
    return higher(span.largest, four_largest(p->past[channel], PAST)) * p->most <= limit;
}

void true_peak_skip(TruePeak *p, uint32_t channel, const float *in, FourSpan span, uint32_t n)
{
    keep_past(p->past[channel], in, n);
    if (all_whole(p, channel, in, span.smallest, n))
        return;
    const uint32_t telling = span.largest > 0.f || n < 2 ? n : 2; /* after two zeros more of them change nothing */
    for (uint32_t t = 0; t < telling; ++t)
        is_whole(p, channel, in[t]);
}

float true_peak_sample(const TruePeak *p, uint32_t channel, const float *in, uint32_t n)
{
    const uint32_t old = n < PAST - HERE ? n : PAST - HERE;
    return higher(four_largest(p->past[channel] + HERE, old), four_largest(in, n - old));
}

static float above_in_cell(TruePeak *p, uint32_t channel, const float *in, float known, uint32_t n)
{
    float peak[DSP_CELL] = {0};
    const float sample = true_peak_sample(p, channel, in, n);
    true_peak_points(p, channel, in, higher(known, sample), peak, n);
    return higher(higher(known, sample), four_largest(peak, n));
}

float true_peak_above(TruePeak *p, uint32_t channel, const float *in, float known, uint32_t n)
{
    for (uint32_t at = 0, m; at < n; at += m) {
        m = n - at < DSP_CELL ? n - at : DSP_CELL;
        const FourSpan span = four_span(in + at, m);
        if (true_peak_stays_under(p, channel, span, known))
            true_peak_skip(p, channel, in + at, span, m);
        else
            known = above_in_cell(p, channel, in + at, known, m);
    }
    return known;
}
