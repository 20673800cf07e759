/* What of spoken.h needs no package and no sound file. */
#include "spoken.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>

#include <cmocka.h>

const char *const spoken_sentences[SPOKEN_SENTENCES] = {
    "She chose six yellow cushions for the garage sale, usually just as cheap.",
    "The judge saw zebras wash in the sea, then measured each splash with pleasure.",
    "Sixty fresh peaches sit on the stage; the version he uses shows a huge zigzag.",
    "His leisure is fishing; such voyages cause no rush, and the jazz singer sings at dusk.",
    "A warm wind moved over the long low hill all morning.",
    "Many men were alone in the yellow room, humming and winding wool.",
    "We will mail you nine new lemons along the narrow lane.",
    "Paper boats bob up and down by the pale brown bridge.",
};

/* A synthesiser may say that its last phone ends after the last sample. */
void spoken_end_phones(Spoken *s)
{
    const double end = s->n / s->rate;
    for (uint32_t i = 0; i < s->phones; i++) {
        s->phone[i].start = fmin(s->phone[i].start, end);
        s->phone[i].end = fmin(s->phone[i].end, end);
    }
}

/* Kaiser window, beta 9 (90 dB), x in -1..1; the Bessel function by its power series. */
static double bessel_i0(double x)
{
    double sum = 1, term = 1;
    for (int k = 1; term > 1e-12 * sum; k++) {
        term *= x / (2 * k) * (x / (2 * k));
        sum += term;
    }
    return sum;
}

static double kaiser(double x)
{
    return x * x < 1 ? bessel_i0(9 * sqrt(1 - x * x)) / bessel_i0(9) : 0;
}

/* A sinc under the window, in steps of 1/512 of a sample from its middle on. Row p holds the points p steps after each
 * whole sample, so that those which weigh an output's neighbours lie side by side. */
enum { STEPS = 512 };

typedef struct {
    int half; /* samples to each side */
    double *point;
} Kernel;

static double kernel_at(int step, double cutoff, int half)
{
    const double pi = 3.14159265358979323846, t = (double)step / STEPS;
    const double sinc = step ? sin(2 * pi * cutoff * t) / (pi * t) : 2 * cutoff;
    return sinc * kaiser(t / half);
}

/* `narrower`: the output's rate over the input's, 1 at most. */
static Kernel kernel_make(double narrower)
{
    Kernel k = {.half = (int)ceil(5.8 / (0.05 * narrower) / 2)};
    const size_t row = (size_t)k.half + 1;
    /* One row more than there are steps: at an offset of 1 weighed() reads it, and takes nothing of it. */
    k.point = calloc(row * (STEPS + 2), sizeof *k.point);
    assert_non_null(k.point);
    for (int m = 0; m <= k.half; ++m)
        for (int p = 0; p <= STEPS; ++p)
            k.point[(size_t)p * row + (size_t)m] = kernel_at(m * STEPS + p, 0.475 * narrower, k.half);
    return k;
}

/* The n samples from x on, `way` apart, weighed as those that lie `off` samples (0..1) and more from the middle. Four
 * sums: one alone would wait for itself. */
static double weighed(const Kernel *k, double off, const float *x, long way, long n)
{
    const int p = (int)(off * STEPS);
    const double f = off * STEPS - p;
    const double *a = k->point + (size_t)p * ((size_t)k->half + 1), *b = a + k->half + 1;
    double sum[4] = {0};
    long m = 0;
    for (; m + 4 <= n; m += 4)
        for (long lane = 0; lane < 4; ++lane)
            sum[lane] += (double)x[way * (m + lane)] * (a[m + lane] + f * (b[m + lane] - a[m + lane]));
    for (; m < n; ++m)
        sum[0] += (double)x[way * m] * (a[m] + f * (b[m] - a[m]));
    return (sum[0] + sum[1]) + (sum[2] + sum[3]);
}

static long least(long a, long b)
{
    return a < b ? a : b;
}

static float between(const Kernel *k, const Spoken *s, double at)
{
    const long centre = (long)floor(at), after = (long)s->n - 1 - centre;
    const double off = at - (double)centre;
    const double before = weighed(k, off, s->x + centre, -1, least(k->half, centre + 1));
    return (float)(before + (after > 0 ? weighed(k, 1.0 - off, s->x + centre + 1, 1, least(k->half, after)) : 0.0));
}

void spoken_resample(Spoken *s, double rate)
{
    if (rate == s->rate)
        return;
    const Kernel k = kernel_make(fmin(1, rate / s->rate));
    const uint32_t n = (uint32_t)floor(s->n * rate / s->rate);
    float *y = malloc(sizeof(float) * (n ? n : 1));
    assert_non_null(y);
    for (uint32_t i = 0; i < n; i++)
        y[i] = between(&k, s, i * s->rate / rate);
    free(k.point);
    free(s->x);
    s->x = y;
    s->n = n;
    s->rate = rate;
    spoken_end_phones(s);
}

void spoken_free(Spoken *s)
{
    free(s->x);
    free(s->phone);
    *s = (Spoken){0};
}
