/* What every module of the library agrees on: the grid, the limits, the constants.
 *
 * The grid: everything that does not run per sample (coefficients, learning, read-outs) runs once a cell, that is every
 * DSP_CELL samples, counted from the last reset. As cells do not depend on how the host cuts its blocks, a processor
 * gives the same bits for any division of the same audio. processor.h defines a processor; grid.h walks the grid. */
#ifndef LINCTUS_DSP_H
#define LINCTUS_DSP_H

#include <stdbool.h>
#include <stdint.h>
#include <string.h>

/* Under these flags a compiler assumes that no sample is NaN or infinite and drops the guards against them, or reorders
 * arithmetic; and with most of them, loading the library sets the host to flush denormals to 0. The Makefile
 * refuses the flags that define no macro. */
#if defined __FAST_MATH__ || defined __RECIPROCAL_MATH__ || (defined __FINITE_MATH_ONLY__ && __FINITE_MATH_ONLY__)
#error "Linctus has to tell NaN and infinity from sound: build it without -ffast-math, -Ofast, -ffinite-math-only."
#endif

enum {
    DSP_CELL = 32,    /* samples between grid points */
    DSP_CHANNELS = 2, /* most channels a processor takes */
};

#define DSP_PI       3.14159265358979323846
#define DSP_RATE_MIN 8000.0   /* Hz, lowest sample rate */
#define DSP_RATE_MAX 384000.0 /* Hz, highest sample rate */

/* Damage: a sample that is not finite, or of magnitude DSP_BROKEN (+24 dBFS) or more, is no sound. Whoever calls a
 * processor puts every sample through dsp_undamaged() first, as no processor looks for damage in it. The 0 that damage
 * becomes moves no level that can be heard or learned, and leaves nothing that could ring. */
#define DSP_BROKEN 16.f

/* The sample, or 0 where it is damaged. NaN fails the comparison too. */
static inline float dsp_undamaged(float x)
{
    return x > -DSP_BROKEN && x < DSP_BROKEN ? x : 0.f;
}

/* Digital silence: all samples are smaller than this, half a step of 24 bits. */
#define DSP_DIGITAL_SILENCE 0x1p-24f

/* Recursive state smaller than this counts as silence, so that it never gets denormal: call dsp_hush() on it at grid
 * points. -400 dB: far below any float sample, far above a double's denormals. */
#define DSP_SILENCE 1e-20

static inline bool dsp_is_hushed(double state)
{
    return state > -DSP_SILENCE && state < DSP_SILENCE;
}

static inline double dsp_hush(double state)
{
    return dsp_is_hushed(state) ? 0.0 : state;
}

static inline bool dsp_rate_ok(double rate)
{
    return rate >= DSP_RATE_MIN && rate <= DSP_RATE_MAX;
}

static inline double dsp_clamp(double x, double lo, double hi)
{
    return x < lo ? lo : x > hi ? hi : x;
}

/* Copies n samples; a whole cell, the usual case, without a call. The two may not overlap. */
static inline void dsp_copy(float *to, const float *from, uint32_t n)
{
    if (n == DSP_CELL)
        memcpy(to, from, DSP_CELL * sizeof *to);
    else
        memcpy(to, from, n * sizeof *to);
}

/* Converts n samples to double, for a recursion, and back; a whole cell with a count that the compiler knows. The two
 * may not overlap. */
static inline void dsp_widen(double *restrict to, const float *restrict from, uint32_t n)
{
    if (n == DSP_CELL)
        for (uint32_t t = 0; t < DSP_CELL; ++t)
            to[t] = (double)from[t];
    else
        for (uint32_t t = 0; t < n; ++t)
            to[t] = (double)from[t];
}

static inline void dsp_narrow(float *restrict to, const double *restrict from, uint32_t n)
{
    if (n == DSP_CELL)
        for (uint32_t t = 0; t < DSP_CELL; ++t)
            to[t] = (float)from[t];
    else
        for (uint32_t t = 0; t < n; ++t)
            to[t] = (float)from[t];
}

#endif
