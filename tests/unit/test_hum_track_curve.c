/* hum_track_curve.h, hum_track_shape.h and hum_track_windows.h together, beside the same equations plainly in double.
 */
#include "hum_track_curve.h"
#include "hum_track_inside.h"
#include "hum_track_shape.h"
#include "quantile.h"

#include <complex.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { HARMONICS = 8, LENGTH = 20, MOST = 260, CHANNELS = 2, WINDOW = 7 * LENGTH };

#define RATE    1000.0
#define SECONDS (LENGTH / RATE)
#define NOMINAL (2.0 * DSP_PI * 50.0)

/* Of blocks there is room for no more than there are: a sanitizer sees it. */
typedef struct {
    HumTrack t;
    HumTrackBlock *block;
    float point[CHANNELS][(MOST + TRACK_SPAN) * LENGTH];
} Take;

typedef struct {
    double complex heard[CHANNELS][HARMONICS][MOST], shape[CHANNELS][HARMONICS];
    double voice[CHANNELS][HARMONICS][MOST], noise[CHANNELS][HARMONICS], phase[MOST];
} Plain;

/* ---- The take ---- */

static double true_phase(double seconds)
{
    return 0.4 * sin(1.1 * seconds) + 0.7 * seconds;
}

/* A hum, and in all but the rests a voice of three harmonics that comes and goes. */
static float sound(uint32_t channel, double seconds, double voice)
{
    double sum = 0.0;
    for (int k = 1; k <= HARMONICS; ++k)
        sum += (1.0 + 0.3 * channel) / k * cos(k * (NOMINAL * seconds + true_phase(seconds)) + 0.9 * k * k);
    for (int k = 1; k <= 3; ++k)
        sum += voice * (1.0 + 0.2 * sin(7.0 * seconds)) / k *
               sin(k * 700.0 * seconds + 3.0 * sin(5.0 * seconds) + channel);
    return (float)(sum + 0.02 * sin(911.0 * seconds * seconds + 2.0 * channel));
}

/* Rests at both ends, and up to `away` s from the nearest one in between. The first curve is off by up to 0.3 rad. */
static Take *take_of(double away)
{
    Take *const w = calloc(1, sizeof *w);
    assert_non_null(w);
    const uint32_t between = (uint32_t)(2.0 * away / SECONDS + 0.5) - 1, blocks = between + 28;
    assert_true(blocks <= MOST);
    w->t = (HumTrack){.take = {.rate = RATE, .channels = CHANNELS, .stride = 1, .point = {w->point[0], w->point[1]}},
                      .nominal = NOMINAL,
                      .seconds = SECONDS,
                      .harmonics = HARMONICS,
                      .length = LENGTH,
                      .blocks = blocks,
                      .block = calloc(blocks, sizeof *w->t.block),
                      .work = calloc((size_t)TRACK_ROWS * blocks, sizeof *w->t.work)};
    assert_true(w->t.block && w->t.work);
    w->block = w->t.block;
    for (uint32_t k = 0; k <= HARMONICS; ++k)
        w->t.scale[k] = 2.f + 0.1f * (float)k;
    for (uint32_t c = 0; c < CHANNELS; ++c)
        w->t.shape[c].re[HARMONICS] = 99.f; /* one more, which is never looked at */
    for (uint32_t i = 0; i < (blocks + TRACK_SPAN) * LENGTH; ++i)
        for (uint32_t c = 0; c < CHANNELS; ++c)
            w->point[c][i] = sound(c, i / RATE, i / LENGTH >= 20 && i / LENGTH < blocks - 8 ? 0.4 : 0.0);
    for (uint32_t b = 0; b < blocks; ++b) {
        HumTrackBlock *const block = &w->block[b];
        block->quiet = b < 14 || b >= blocks - 14;
        block->away = block->quiet ? 0.0 : fmin(b - 13.0, blocks - 14.0 - b) * SECONDS;
        block->silent = b == 17;
        block->phase = true_phase((b + 3.5) * SECONDS) + 0.3 * sin(0.7 * b / 10.0);
    }
    return w;
}

/* ---- The equations ---- */

static double square(double complex x)
{
    return creal(x) * creal(x) + cimag(x) * cimag(x);
}

/* The sum of what comes in under a Hann window, turned back by the reference. */
static void plain_hear(const Take *w, Plain *p)
{
    for (uint32_t b = 0; b < w->t.blocks; ++b) {
        const uint32_t from = b ? b - 1 : 0, to = b + 1 < w->t.blocks ? b + 1 : b;
        const double speed = NOMINAL + (p->phase[to] - p->phase[from]) / ((to - from) * SECONDS);
        for (uint32_t c = 0; c < CHANNELS; ++c)
            for (uint32_t k = 0; k < HARMONICS; ++k)
                p->heard[c][k][b] = 0.0;
        for (uint32_t i = 0; i < WINDOW; ++i) {
            const double aside = (i - 0.5 * (WINDOW - 1)) / RATE;
            const double middle = (b * LENGTH + 0.5 * (WINDOW - 1)) / RATE;
            const double angle = p->phase[b] + NOMINAL * middle + speed * aside;
            const double hann = (1.0 - cos(2.0 * DSP_PI * (i + 0.5) / WINDOW)) / WINDOW;
            const double complex back = cexp(-I * angle);
            double complex by = back;
            for (uint32_t k = 0; k < HARMONICS; ++k, by *= back)
                for (uint32_t c = 0; c < CHANNELS; ++c)
                    p->heard[c][k][b] += (double)w->t.scale[k] * hann * by * (double)w->point[c][b * LENGTH + i];
        }
    }
}

/* The middle of what f says of every quiet window. */
static double middle_of(const Take *w, const double complex *heard, double (*f)(double complex), double complex from)
{
    double value[MOST];
    uint32_t n = 0;
    for (uint32_t b = 0; b < w->t.blocks; ++b)
        if (w->block[b].quiet)
            value[n++] = f(heard[b] - from);
    return quantile(value, n, 0.5);
}

/* A mean over the rests that odd values do not move (Cauchy's weights), five times over. */
static void plain_shape(const Take *w, Plain *p, uint32_t c, uint32_t k)
{
    const double complex *const heard = p->heard[c][k];
    double complex x = middle_of(w, heard, creal, 0.0) + I * middle_of(w, heard, cimag, 0.0);
    for (int i = 0; i < 5; ++i) {
        const double usual = middle_of(w, heard, square, x) / 0.693;
        double complex sum = 0.0;
        double all = 0.0;
        for (uint32_t b = 0; b < w->t.blocks; ++b)
            if (w->block[b].quiet) {
                sum += heard[b] / (usual + square(heard[b] - x));
                all += 1.0 / (usual + square(heard[b] - x));
            }
        x = sum / all;
    }
    p->shape[c][k] = x;
    p->noise[c][k] = middle_of(w, heard, square, x) / 0.693;
}

static double plain_voice(const Take *w, const Plain *p, uint32_t c, uint32_t k, uint32_t b)
{
    const uint32_t from = b ? b - 1 : 0, to = b + 1 < w->t.blocks ? b + 1 : b;
    double sum = 0.0;
    for (uint32_t i = from; i <= to; ++i)
        sum += p->voice[c][k][i];
    return fmax(p->voice[c][k][b], sum / (to - from + 1));
}

/* Weighted least squares for the phase that a window's harmonics have in common: its weight, and the weighted sum. */
static double plain_off(const Take *w, const Plain *p, uint32_t b, double reach, double *worth)
{
    const double away = w->block[b].away;
    const uint32_t tell = w->block[b].silent || away > reach ? 0
                          : away > reach / 2                 ? 3
                          : away > reach / 4                 ? 6
                                                             : HARMONICS;
    double sum = 0.0;
    *worth = 0.0;
    for (uint32_t c = 0; c < CHANNELS; ++c)
        for (uint32_t k = 0; k < tell; ++k) {
            const double complex a = p->shape[c][k], turned = p->heard[c][k][b] * conj(a);
            const double aside = tell == HARMONICS ? cimag(turned) * cimag(turned) / square(a) : 0.0, n = k + 1.0;
            const double noise = p->noise[c][k] + 0.5 * fmax(plain_voice(w, p, c, k, b), aside);
            const double weight = n * n * square(a) / (2.0 * noise); /* 4 windows share their blocks */
            sum += weight * carg(turned) / n;
            *worth += weight;
        }
    return *worth > 0.0 ? sum / *worth : 0.0;
}

static void plain_bend(const Take *w, Plain *p, double reach)
{
    static double value[MOST], row[4][MOST];
    double *const band[4] = {row[0], row[1], row[2], row[3]};
    memset(row, 0, sizeof row);
    for (uint32_t b = 0; b < w->t.blocks; ++b)
        value[b] = p->phase[b] + plain_off(w, p, b, reach, &row[0][b]);
    const double drift = 0.125 * SECONDS * SECONDS * SECONDS;
    smoothest(value, band, w->t.blocks, 3, 1.0 / (drift * drift));
    memcpy(p->phase, value, sizeof p->phase);
}

/* Six times over at least, until the reach is eight times as far as any window is from a rest. */
static void plain_follow(const Take *w, Plain *p, double farthest)
{
    double reach = 0.7;
    for (int i = 0; i < 6 || reach < 8.0 * farthest; ++i, reach *= 1.5) {
        plain_hear(w, p);
        for (uint32_t c = 0; c < CHANNELS; ++c)
            for (uint32_t k = 0; k < HARMONICS; ++k) {
                plain_shape(w, p, c, k);
                for (uint32_t b = 0; b < w->t.blocks; ++b)
                    p->voice[c][k][b] = 2.0 * pow(cabs(p->heard[c][k][b]) - cabs(p->shape[c][k]), 2.0);
            }
        plain_bend(w, p, reach);
    }
    plain_hear(w, p);
}

/* A part of a harmonic as it wanders, by 1 % of its amplitude in a second: at every window. */
static void plain_wander(const Take *w, const Plain *p, uint32_t c, uint32_t k, bool imaginary, double *value)
{
    double row[2][MOST] = {{0.0}}, *const band[] = {row[0], row[1]};
    for (uint32_t b = 0; b < w->t.blocks; ++b) {
        const double complex off = p->heard[c][k][b] - p->shape[c][k];
        row[0][b] = w->block[b].quiet ? 0.25 / (p->noise[c][k] + square(off)) : 0.0;
        value[b] = imaginary ? cimag(off) : creal(off);
    }
    smoothest(value, band, w->t.blocks, 1, 1.0 / (0.01 * 0.01 * SECONDS * square(p->shape[c][k])));
    for (uint32_t b = 0; b < w->t.blocks; ++b)
        value[b] = w->block[b].silent ? 0.0 : value[b] + (imaginary ? cimag(p->shape[c][k]) : creal(p->shape[c][k]));
}

/* ---- Beside each other ---- */

static bool near(double is, double wanted, double scale)
{
    return fabs(is - wanted) < 1e-4 * scale;
}

/* So far from a rest that the least number of rounds is made, and that the last begins just before the reach does, and
 * just after. */
static void the_curve_is_that_of_the_equations(void **state)
{
    (void)state;
    static const double away[] = {0.6, 1.6, 2.14};
    for (int i = 0; i < 3; ++i) {
        Take *const w = take_of(away[i]);
        Plain *const p = calloc(1, sizeof *p);
        assert_non_null(p);
        for (uint32_t b = 0; b < w->t.blocks; ++b)
            p->phase[b] = w->block[b].phase;
        plain_follow(w, p, away[i]);
        track_follow(&w->t);
        for (uint32_t b = 0; b < w->t.blocks; ++b)
            assert_true(near(w->block[b].phase, p->phase[b], 1.0));
        for (uint32_t c = 0; c < CHANNELS; ++c) {
            assert_true(w->block[0].voice[c][HARMONICS] == 0.f && w->block[0].heard[c].re[HARMONICS] == 0.f);
            for (uint32_t k = 0; k < HARMONICS; ++k) {
                const double complex shape = p->shape[c][k];
                double re[MOST], im[MOST];
                track_wander(&w->t, c, k);
                plain_wander(w, p, c, k, false, re);
                plain_wander(w, p, c, k, true, im);
                assert_true(near((double)w->t.shape[c].re[k], creal(shape), 1.0));
                assert_true(near((double)w->t.shape[c].im[k], cimag(shape), 1.0));
                assert_true(near((double)w->t.noise[c][k], p->noise[c][k], 100.0 * p->noise[c][k]));
                for (uint32_t b = 0; b < w->t.blocks; ++b) {
                    assert_true(near((double)w->block[b].hum[c].re[k], re[b], 1.0));
                    assert_true(near((double)w->block[b].hum[c].im[k], im[b], 1.0));
                    assert_true(near((double)w->block[b].heard[c].re[k], creal(p->heard[c][k][b]), 1.0));
                    assert_true(near((double)w->block[b].heard[c].im[k], cimag(p->heard[c][k][b]), 1.0));
                }
            }
        }
        free(p);
        free(w->t.block);
        free(w->t.work);
        free(w);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_curve_is_that_of_the_equations),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
