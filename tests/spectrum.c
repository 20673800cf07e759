#include "spectrum.h"

#include "dsp.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <cmocka.h>

typedef struct {
    double re, im;
} Bin;

/* Radix 2, in place, put into bit-reversed order first. turn: the n / 2 roots of one in the lower half plane. */
static void transform(Bin *x, size_t n, const Bin *turn)
{
    for (size_t i = 1, j = 0; i < n; i++) {
        size_t bit = n >> 1;
        for (; j & bit; bit >>= 1)
            j ^= bit;
        j ^= bit;
        if (i < j) {
            const Bin swap = x[i];
            x[i] = x[j];
            x[j] = swap;
        }
    }
    for (size_t half = 1; half < n; half *= 2)
        for (size_t i = 0; i < n; i += 2 * half)
            for (size_t k = 0; k < half; k++) {
                const Bin w = turn[k * (n / 2 / half)], a = x[i + k], b = x[i + k + half];
                const Bin turned = {b.re * w.re - b.im * w.im, b.re * w.im + b.im * w.re};
                x[i + k] = (Bin){a.re + turned.re, a.im + turned.im};
                x[i + k + half] = (Bin){a.re - turned.re, a.im - turned.im};
            }
}

static void add_window(Spectrum *s, const float *x, size_t n, const Bin *turn, Bin *work)
{
    const size_t half = s->size / 2;
    for (size_t i = 0; i < s->size; i++) { /* Hann: the roots hold its cosine */
        const double c = i < half ? turn[i].re : -turn[i - half].re;
        work[i] = (Bin){i < n ? (0.5 - 0.5 * c) * x[i] : 0, 0};
    }
    transform(work, s->size, turn);
    for (size_t k = 0; k <= half; k++) {
        const double both = k == 0 || k == half ? 1 : 2;
        s->power[k] += both * (work[k].re * work[k].re + work[k].im * work[k].im);
    }
}

Spectrum spectrum_of(const float *x, size_t n, size_t size, double rate)
{
    Spectrum s = {calloc(size / 2 + 1, sizeof(double)), size, rate};
    Bin *work = malloc(size * sizeof *work), *turn = malloc(size / 2 * sizeof *turn);
    assert_non_null(s.power);
    assert_non_null(work);
    assert_non_null(turn);
    for (size_t k = 0; k < size / 2; k++) {
        const double angle = -2 * DSP_PI * (double)k / (double)size;
        turn[k] = (Bin){cos(angle), sin(angle)};
    }
    size_t windows = 0;
    for (size_t at = 0; windows == 0 || at + size <= n; at += size / 2, windows++)
        add_window(&s, x + at, n - at, turn, work);
    const double scale = 1 / (0.375 * (double)size * (double)size * (double)windows);
    for (size_t k = 0; k <= size / 2; k++)
        s.power[k] *= scale;
    free(work);
    free(turn);
    return s;
}

void spectrum_free(Spectrum *s)
{
    free(s->power);
    s->power = NULL;
}

static size_t first_bin(const Spectrum *s, double hz)
{
    const double bin = ceil(hz / s->rate * (double)s->size);
    const size_t end = s->size / 2 + 1;
    return bin < (double)end ? (size_t)bin : end;
}

double spectrum_band(const Spectrum *s, double lo, double hi)
{
    double sum = 1e-30;
    for (size_t k = first_bin(s, lo), end = first_bin(s, hi); k < end; k++)
        sum += s->power[k];
    return 10 * log10(sum);
}

double spectrum_peak(const Spectrum *s, double lo, double hi)
{
    size_t best = first_bin(s, lo);
    for (size_t k = best, end = first_bin(s, hi); k < end; k++)
        if (s->power[k] > s->power[best])
            best = k;
    return (double)best * s->rate / (double)s->size;
}

double spectrum_change(const float *before, const float *after, size_t n, double rate, double faint)
{
    Spectrum a = spectrum_of(before, n, 16384, rate), b = spectrum_of(after, n, 16384, rate);
    double strongest = -INFINITY, worst = 0.0;
    for (int pass = 0; pass < 2; ++pass)
        for (int k = -10; k <= 10; ++k) {
            const double lo = 1000.0 * pow(10.0, (k - 0.5) / 10.0), hi = 1000.0 * pow(10.0, (k + 0.5) / 10.0);
            const double level = spectrum_band(&a, lo, hi);
            strongest = fmax(strongest, level);
            if (pass && level > strongest - faint)
                worst = fmax(worst, fabs(spectrum_band(&b, lo, hi) - level));
        }
    spectrum_free(&a);
    spectrum_free(&b);
    return worst;
}

double spectrum_part(const float *x, size_t n, double hz, double rate)
{
    double re = 0.0, im = 0.0;
    for (size_t i = 0; i < n; ++i) {
        const double window = 1.0 - cos(2.0 * DSP_PI * (double)i / (double)n),
                     turn = 2.0 * DSP_PI * hz * (double)i / rate;
        re += window * (double)x[i] * cos(turn);
        im += window * (double)x[i] * sin(turn);
    }
    return 2.0 * hypot(re, im) / (double)n;
}
