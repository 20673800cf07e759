#include "tract.h"

#include "dsp.h"

#include <math.h>
#include <string.h>

typedef struct {
    double re, im;
} Complex;

static Complex times(Complex a, Complex b)
{
    return (Complex){a.re * b.re - a.im * b.im, a.re * b.im + a.im * b.re};
}

static Complex over(double a, Complex b)
{
    const double scale = a / (b.re * b.re + b.im * b.im);
    return (Complex){b.re * scale, -b.im * scale};
}

void tract_init(Tract *t, double rate)
{
    memset(t, 0, sizeof *t);
    t->rate = rate;
}

/* Residue of prod |p|^2 / ((s - p)(s - p*)) at its pole k. */
static Complex residue(const Complex pole[TRACT_POLES], int k)
{
    const Complex p = pole[k];
    Complex r = over(p.re * p.re + p.im * p.im, (Complex){0, 2 * p.im});
    for (int j = 0; j < TRACT_POLES; j++) {
        if (j == k)
            continue;
        const Complex q = pole[j];
        const Complex both = times((Complex){p.re - q.re, p.im - q.im}, (Complex){p.re - q.re, p.im + q.im});
        r = times(r, over(q.re * q.re + q.im * q.im, both));
    }
    return r;
}

void tract_shape(Tract *t, const double hz[TRACT_POLES], const double bandwidth[TRACT_POLES])
{
    Complex pole[TRACT_POLES];
    for (int k = 0; k < TRACT_POLES; k++)
        pole[k] = (Complex){-DSP_PI * bandwidth[k], 2 * DSP_PI * hz[k]};
    for (int k = 0; k < TRACT_POLES; k++) {
        const bool held = hz[k] < 0.46 * t->rate;
        const double radius = held ? exp(pole[k].re / t->rate) : 0;
        const Complex r = residue(pole, k);
        t->turn[0][k] = (float)(radius * cos(pole[k].im / t->rate));
        t->turn[1][k] = (float)(radius * sin(pole[k].im / t->rate));
        t->weight[0][k] = held ? (float)(2 * r.re / t->rate) : 0.f;
        t->weight[1][k] = held ? (float)(2 * r.im / t->rate) : 0.f;
    }
}

void tract_run(Tract *t, float *x, size_t n)
{
    float *const re = t->state[0], *const im = t->state[1];
    for (size_t i = 0; i < n; i++) {
        const float in = x[i];
        for (int k = 0; k < TRACT_POLES; k++) {
            const float a = t->turn[0][k] * re[k] - t->turn[1][k] * im[k] + t->weight[0][k] * in;
            im[k] = t->turn[0][k] * im[k] + t->turn[1][k] * re[k] + t->weight[1][k] * in;
            re[k] = a;
        }
        float sum[4] = {0};
        for (int k = 0; k < TRACT_POLES; k += 4)
            for (int j = 0; j < 4; j++)
                sum[j] += re[k + j];
        x[i] = (sum[0] + sum[1]) + (sum[2] + sum[3]);
    }
    for (int k = 0; k < TRACT_POLES; k++) { /* a silent tract must not go denormal */
        re[k] = fabsf(re[k]) < 1e-20f ? 0.f : re[k];
        im[k] = fabsf(im[k]) < 1e-20f ? 0.f : im[k];
    }
}
