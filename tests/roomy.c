#include "roomy.h"

#include "dsp.h"
#include "singer/random.h"
#include "units.h"

#include <complex.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define EARLY  0.05  /* s */
#define BEGINS 0.003 /* s */
#define LASTS  1.2   /* decay times */

typedef double complex Complex;

static void *room(size_t n, size_t size)
{
    void *p = calloc(n + 1, size);
    assert_non_null(p);
    return p;
}

/* Without what C adds for numbers that are not finite. */
static Complex times(Complex a, Complex b)
{
    return creal(a) * creal(b) - cimag(a) * cimag(b) + I * (creal(a) * cimag(b) + cimag(a) * creal(b));
}

/* ---- A transform ---- */

static void reorder(Complex *x, uint32_t n)
{
    for (uint32_t i = 1, j = 0; i < n; ++i) {
        uint32_t bit = n / 2;
        for (; j & bit; bit /= 2)
            j ^= bit;
        j |= bit;
        if (i < j) {
            const Complex t = x[i];
            x[i] = x[j];
            x[j] = t;
        }
    }
}

/* n: a power of two; sign: -1 forward. turn[k]: e^(2 pi i k / n). */
static void transform(Complex *x, uint32_t n, const Complex *turn, int sign)
{
    reorder(x, n);
    for (uint32_t half = 1; half < n; half *= 2)
        for (uint32_t i = 0; i < n; i += 2 * half)
            for (uint32_t k = 0; k < half; ++k) {
                const Complex t = turn[(size_t)k * (n / 2 / half)], z = x[i + k];
                const Complex y = times(x[i + k + half], sign > 0 ? t : conj(t));
                x[i + k] = z + y;
                x[i + k + half] = z - y;
            }
}

static Complex *turns(uint32_t n)
{
    Complex *turn = room(n / 2, sizeof *turn);
    for (uint32_t k = 0; k < n / 2; ++k)
        turn[k] = cos(2.0 * DSP_PI * k / n) + I * sin(2.0 * DSP_PI * k / n);
    return turn;
}

/* ---- The room ---- */

/* Energy that is left of a band after t seconds; bands of noise are told apart by its transform. */
static double decay_of(double hz, double t60)
{
    static const double end[] = {1000.0, 2000.0, 4000.0, 8000.0}, share[] = {1.0, 0.93, 0.78, 0.6, 0.45};
    uint32_t b = 0;
    while (b < 4 && hz >= end[b])
        ++b;
    return share[b] * t60;
}

/* Adds a band of decaying noise to the answer. */
static void add_band(Complex *answer, uint32_t n, const Complex *turn, const Complex *noise, double low, double high,
                     double rate, double t60)
{
    Complex *x = room(n, sizeof *x);
    for (uint32_t k = 0; k < n; ++k) {
        const double hz = (k <= n / 2 ? k : n - k) * rate / n;
        x[k] = hz >= low && hz < high ? noise[k] : 0.0;
    }
    transform(x, n, turn, 1);
    for (uint32_t t = (uint32_t)(BEGINS * rate); t < n && t < LASTS * t60 * rate; ++t)
        answer[t] += creal(x[t]) * pow(10.0, -3.0 * t / (decay_of(low, t60) * rate));
    free(x);
}

/* Early in the real part, late in the imaginary one: its transform. */
static Complex *answer_of(uint32_t n, const Complex *turn, double rate, double t60, double db, uint32_t seed)
{
    static const double edge[] = {0.0, 1000.0, 2000.0, 4000.0, 8000.0, 1e9};
    Complex *answer = room(n, sizeof *answer), *noise = room(n, sizeof *noise);
    Random random = random_stream(seed, 9);
    for (uint32_t t = 0; t < n; ++t)
        noise[t] = (double)random_noise(&random);
    transform(noise, n, turn, -1);
    for (int b = 0; b < 5; ++b)
        add_band(answer, n, turn, noise, edge[b], edge[b + 1], rate, t60);
    double energy = 0.0;
    for (uint32_t t = 0; t < n; ++t)
        energy += creal(answer[t]) * creal(answer[t]);
    const double gain = sqrt(db_to_power(-db) / energy);
    for (uint32_t t = 0; t < n; ++t)
        answer[t] *= t < EARLY * rate ? gain : gain * I;
    answer[0] = 1.0;
    free(noise);
    transform(answer, n, turn, -1);
    return answer;
}

/* Overlap and add, with pieces of half the transform. */
static void put_in_room(Roomy *r, const Complex *answer, uint32_t n, const Complex *turn)
{
    Complex *x = room(n, sizeof *x);
    for (uint32_t from = 0; from < r->n; from += n / 2) {
        for (uint32_t t = 0; t < n; ++t)
            x[t] = t < n / 2 && from + t < r->n ? (double)r->dry[from + t] : 0.0;
        transform(x, n, turn, -1);
        for (uint32_t k = 0; k < n; ++k)
            x[k] = times(x[k], answer[k]);
        transform(x, n, turn, 1);
        for (uint32_t t = 0; t < n && from + t < r->n; ++t) {
            r->early[from + t] += (float)(creal(x[t]) / n);
            r->late[from + t] += (float)(cimag(x[t]) / n);
        }
    }
    free(x);
}

void roomy_plant(Roomy *r, const float *dry, uint32_t n, double rate, double t60, double db, uint32_t seed)
{
    uint32_t size = 1024;
    while (size < 2.0 * LASTS * t60 * rate)
        size *= 2;
    *r = (Roomy){.rate = rate, .n = n, .dry = room(n, sizeof(float)), .early = room(n, sizeof(float))};
    r->late = room(n, sizeof(float));
    r->take = room(n, sizeof(float));
    memcpy(r->dry, dry, n * sizeof *dry);
    Complex *turn = turns(size), *answer = answer_of(size, turn, rate, t60, db, seed);
    put_in_room(r, answer, size, turn);
    for (uint32_t t = 0; t < n; ++t)
        r->take[t] = r->early[t] + r->late[t];
    free(answer);
    free(turn);
}

void roomy_free(Roomy *r)
{
    free(r->dry);
    free(r->early);
    free(r->late);
    free(r->take);
    *r = (Roomy){0};
}

/* ---- Measures ---- */

double roomy_energy(const float *x, uint32_t n)
{
    double sum = 0.0;
    for (uint32_t t = 0; t < n; ++t)
        sum += (double)x[t] * (double)x[t];
    return sum;
}

/* Of the loudest block of this many samples. */
static double loudest(const float *x, uint32_t n, uint32_t block)
{
    double most = 0.0;
    for (uint32_t t = 0; t + block <= n; t += block)
        most = fmax(most, roomy_energy(x + t, block));
    return most;
}

double roomy_segmental(const Roomy *r, const float *x)
{
    const uint32_t block = (uint32_t)(0.02 * r->rate);
    const double sounds = loudest(r->dry, r->n, block) * db_to_power(-30.0);
    double cross = 0.0, sum = 0.0, blocks = 0.0;
    for (uint32_t t = 0; t < r->n; ++t)
        cross += (double)x[t] * (double)r->early[t];
    const double gain = cross / roomy_energy(x, r->n);
    for (uint32_t t = 0; t + block <= r->n; t += block) {
        if (roomy_energy(r->dry + t, block) < sounds)
            continue;
        double error = 1e-20;
        for (uint32_t i = t; i < t + block; ++i) {
            const double off = gain * (double)x[i] - (double)r->early[i];
            error += off * off;
        }
        sum += dsp_clamp(power_to_db(roomy_energy(r->early + t, block) / error), -10.0, 35.0);
        blocks += 1.0;
    }
    return sum / blocks;
}

enum { ORDER = 24, CEPSTRA = 4000 };

typedef struct {
    uint32_t n;
    double c[CEPSTRA][ORDER + 1];
} Cepstra;

/* Of the frame's spectrum up to 8 kHz: `bins` of it. */
static void cepstrum_of(const Complex *x, uint32_t bins, double c[ORDER + 1])
{
    double most = 0.0;
    for (uint32_t k = 0; k < bins; ++k)
        most = fmax(most, cabs(x[k]));
    memset(c, 0, (ORDER + 1) * sizeof *c);
    for (uint32_t k = 0; k < bins; ++k) {
        const double share = (k == 0 || k == bins - 1 ? 0.5 : 1.0) / (bins - 1);
        const double level = share * log(fmax(cabs(x[k]), 1e-5 * most + 1e-12));
        const double step = 2.0 * cos(DSP_PI * k / (bins - 1));
        double now = 1.0, before = 0.5 * step; /* cos(0), cos(-angle): the next by Chebyshev's recurrence */
        for (uint32_t i = 0; i <= ORDER; ++i) {
            c[i] += level * now;
            const double next = step * now - before;
            before = now;
            now = next;
        }
    }
}

static void take_mean_off(Cepstra *all)
{
    for (uint32_t i = 0; i <= ORDER; ++i) {
        double mean = 0.0;
        for (uint32_t f = 0; f < all->n; ++f)
            mean += all->c[f][i] / all->n;
        for (uint32_t f = 0; f < all->n; ++f)
            all->c[f][i] -= mean;
    }
}

static void cepstra_of(Cepstra *all, const float *x, uint32_t n, double rate)
{
    const uint32_t frame = (uint32_t)(0.025 * rate), hop = (uint32_t)(0.01 * rate);
    uint32_t size = 256;
    while (size < frame)
        size *= 2;
    Complex *turn = turns(size), *y = room(size, sizeof *y);
    all->n = 0;
    for (uint32_t from = 0; from + frame <= n && all->n < CEPSTRA; from += hop) {
        for (uint32_t t = 0; t < size; ++t)
            y[t] = t < frame ? (double)x[from + t] * (0.5 - 0.5 * cos(2.0 * DSP_PI * t / frame)) : 0.0;
        transform(y, size, turn, -1);
        cepstrum_of(y, (uint32_t)(fmin(8000.0, 0.5 * rate) * size / rate) + 1, all->c[all->n++]);
    }
    take_mean_off(all);
    free(turn);
    free(y);
}

static double distance(const double *a, const double *b)
{
    double square = 0.0;
    for (uint32_t i = 0; i <= ORDER; ++i)
        square += (i ? 2.0 : 1.0) * (a[i] - b[i]) * (a[i] - b[i]);
    return fmin(10.0 / log(10.0) * sqrt(square), 10.0);
}

double roomy_nearer(const Roomy *r, const float *x)
{
    static Cepstra dry, take, other;
    const uint32_t frame = (uint32_t)(0.025 * r->rate), hop = (uint32_t)(0.01 * r->rate);
    double most = 0.0, sum = 0.0, frames = 0.0;
    cepstra_of(&dry, r->dry, r->n, r->rate);
    cepstra_of(&take, r->take, r->n, r->rate);
    cepstra_of(&other, x, r->n, r->rate);
    for (uint32_t f = 0; f < dry.n; ++f)
        most = fmax(most, roomy_energy(r->dry + (size_t)f * hop, frame));
    for (uint32_t f = 0; f < dry.n; ++f) {
        if (roomy_energy(r->dry + (size_t)f * hop, frame) < most * db_to_power(-40.0))
            continue;
        sum += distance(dry.c[f], take.c[f]) - distance(dry.c[f], other.c[f]);
        frames += 1.0;
    }
    return sum / frames;
}

double roomy_gaps(const Roomy *r, const float *x)
{
    const uint32_t block = (uint32_t)(0.01 * r->rate);
    const double sounds = loudest(r->dry, r->n, block) * db_to_power(-30.0);
    double before = 0.0, after = 0.0;
    uint32_t since = 1000;
    for (uint32_t t = 0; t + block <= r->n; t += block) {
        const double dry = roomy_energy(r->dry + t, block), take = roomy_energy(r->take + t, block);
        since = dry > sounds ? 0 : since + 1;
        if (since < 6 || since > 30 || 20.0 * dry > take)
            continue;
        before += take;
        after += roomy_energy(x + t, block);
    }
    return before > 0.0 ? power_to_db(after / before) : 0.0;
}
