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

enum { KERNEL_STEPS = 512 };

void spoken_resample(Spoken *s, double rate)
{
    const double pi = 3.14159265358979323846;
    if (rate == s->rate)
        return;
    const double cutoff = 0.475 * fmin(1, rate / s->rate); /* cycles per sample of the input */
    const int half = (int)ceil(5.8 / (0.05 * fmin(1, rate / s->rate)) / 2);
    const int points = (half + 1) * KERNEL_STEPS;
    double *kernel = malloc(sizeof(double) * (size_t)(points + 2));
    assert_non_null(kernel);
    for (int i = 0; i < points + 2; i++) {
        const double t = (double)i / KERNEL_STEPS;
        const double sinc = i ? sin(2 * pi * cutoff * t) / (pi * t) : 2 * cutoff;
        kernel[i] = sinc * kaiser(t / half);
    }
    const uint32_t n = (uint32_t)floor(s->n * rate / s->rate);
    float *y = malloc(sizeof(float) * (n ? n : 1));
    assert_non_null(y);
    for (uint32_t i = 0; i < n; i++) {
        const double at = i * s->rate / rate;
        const long centre = (long)floor(at);
        double sum = 0;
        for (long j = centre - half + 1; j <= centre + half; j++) {
            if (j < 0 || j >= (long)s->n)
                continue;
            const double t = fabs(at - (double)j) * KERNEL_STEPS;
            const int k = (int)t;
            sum += s->x[j] * (kernel[k] + (t - k) * (kernel[k + 1] - kernel[k]));
        }
        y[i] = (float)sum;
    }
    free(kernel);
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
