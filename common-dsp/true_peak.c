#include "true_peak.h"

#include <math.h>
#include <string.h>

enum { PAST = TRUE_PEAK_TAPS - 1 };
#define KAISER_BETA 5.0

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

void true_peak_init(TruePeak *p, double rate)
{
    memset(p, 0, sizeof *p);
    p->between = rate < 80000.0 ? 3 : rate < 160000.0 ? 1 : 0;
    for (uint32_t i = 0; i < p->between; ++i)
        design(p->tap[i], (i + 1.0) / (p->between + 1.0));
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

/* peak[t] becomes the higher of itself and the point's magnitude. Tap by tap over the whole cell, so that a compiler
 * can do several samples at once; each sample's sum has the same order for any n. */
static inline void raise(float *peak, const float *tap, const float *line, uint32_t n)
{
    float sum[DSP_CELL] = {0};
    for (uint32_t k = 0; k < TRUE_PEAK_TAPS; ++k)
        for (uint32_t t = 0; t < n; ++t)
            sum[t] += tap[k] * line[t + k];
    for (uint32_t t = 0; t < n; ++t)
        peak[t] = higher(peak[t], fabsf(sum[t]));
}

/* line: PAST older samples, then n new ones. */
static void points(const TruePeak *p, float *peak, const float *line, uint32_t n)
{
    memset(peak, 0, n * sizeof *peak);
    for (uint32_t i = 0; i < p->between; ++i) {
        if (n == DSP_CELL)
            raise(peak, p->tap[i], line, DSP_CELL);
        else
            raise(peak, p->tap[i], line, n);
    }
}

/* The next sample: does any gap lie within reach of the point that is known with it? */
static bool is_whole(TruePeak *p, uint32_t c, float x)
{
    const bool gap = x == 0.f ? p->zeros[c] > 0 : p->zeros[c] == 1 && p->sound[c] * x > 0.f;
    p->whole[c] = gap ? 0 : p->whole[c] + (p->whole[c] < TRUE_PEAK_TAPS);
    p->zeros[c] = x == 0.f ? 1 + (p->zeros[c] > 0) : 0;
    p->sound[c] = x == 0.f ? p->sound[c] : x;
    return p->whole[c] == TRUE_PEAK_TAPS;
}

void true_peak_points(TruePeak *p, uint32_t channel, const float *in, float *peak, uint32_t n)
{
    float line[PAST + DSP_CELL], here[DSP_CELL];
    memcpy(line, p->past[channel], sizeof p->past[channel]);
    memcpy(line + PAST, in, n * sizeof *in);
    points(p, here, line, n);
    for (uint32_t t = 0; t < n; ++t) {
        const float sample = fabsf(line[t + TRUE_PEAK_TAPS / 2 - 1]);
        peak[t] = higher(peak[t], is_whole(p, channel, in[t]) ? higher(sample, here[t]) : sample);
    }
    memcpy(p->past[channel], line + n, sizeof p->past[channel]);
}

float true_peak_process(TruePeak *p, uint32_t channel, const float *in, uint32_t n)
{
    float highest = 0.f;
    for (uint32_t at = 0; at < n;) {
        float peak[DSP_CELL] = {0};
        const uint32_t m = n - at < DSP_CELL ? n - at : DSP_CELL;
        true_peak_points(p, channel, in + at, peak, m);
        for (uint32_t t = 0; t < m; ++t)
            highest = higher(highest, peak[t]);
        at += m;
    }
    return highest;
}
