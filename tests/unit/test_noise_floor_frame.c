/* noise_floor_frame.h: what is taken out of each bin, beside the same equations plainly in double. */
#include "noise_floor_frame.h"
#include "singer/random.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#define RATE   48000.0
#define COUNTS 1.6 /* as powers */

enum { MOST = 2048, FIRST = 1, FRAMES = 30 };

typedef struct {
    double re[MOST], im[MOST], gain[MOST], part[NOISE_BANDS];
    float before[MOST];
} Plain;

/* On hold, so that nothing heard moves the noise. Band 9 was not learned until frame 4; band 12 is not known from frame
 * 18 on, and known again from 25 on. Every third frame asks for next to nothing. */
static void make(NoiseFloor *f)
{
    assert_true(noise_floor.init(f, RATE, 1));
    assert_true(f->stft.bins <= MOST);
    f->counts = (float)COUNTS;
    f->first = FIRST;
    f->scale = 1.f;
    f->listens = false;
    for (uint32_t b = 0; b < NOISE_BANDS; ++b) {
        f->memory.level[b] = 1000;
        f->track.band[b].known = true;
        f->track.band[b].mean = 1e-3f * (float)(b + 1);
        for (uint32_t k = f->track.edge[b]; k < f->track.edge[b + 1]; ++k)
            f->track.noise[k] = f->track.band[b].mean * (k % 2 ? 1.2f : 0.8f);
    }
}

/* A spectrum whose bands are louder than their noise by turns, by 1 to 6 times as much as it may sway by. */
static void next_spectrum(NoiseFloor *f, Plain *p, Random *random, uint32_t frame)
{
    for (uint32_t b = 0; b < f->track.bands; ++b)
        for (uint32_t k = f->track.edge[b]; k < f->track.edge[b + 1]; ++k) {
            const double bins = f->track.edge[b + 1] - f->track.edge[b], sway = 4.5 / sqrt(bins);
            const double times = 1.0 + sway * 0.5 * ((frame + b) % 7);
            const double power = times * COUNTS * (double)f->track.band[b].mean * random_between(random, 0.9, 1.1);
            const double angle = random_between(random, -DSP_PI, DSP_PI);
            f->stft.re[0][k] = (float)(sqrt(power) * cos(angle));
            f->stft.im[0][k] = (float)(sqrt(power) * sin(angle));
            p->re[k] = (double)f->stft.re[0][k];
            p->im[k] = (double)f->stft.im[0][k];
        }
}

/* A band without harmonics keeps the power by which it is over its noise, where that is more than noise sways by:
 * surely where it is twice as much. */
static double plain_lowest(const NoiseFloor *f, const Plain *p, uint32_t b)
{
    const uint32_t from = f->track.edge[b], to = f->track.edge[b + 1];
    if (b > 0 && from * RATE / f->stft.size < 4000.0)
        return (double)f->lowest;
    double power = 0.0;
    for (uint32_t k = from; k < to; ++k)
        power += (p->re[k] * p->re[k] + p->im[k] * p->im[k]) / (to - from);
    const double times = power / (COUNTS * (double)f->track.band[b].mean), sway = 4.5 / sqrt(to - from);
    const double sure = fmin(fmax((times - 1.0) / sway - 1.0, 0.0), 1.0);
    return fmax((double)f->lowest, sqrt(sure * fmax(times - 1.0, 0.0) / times));
}

/* What is to be taken out of a band: nothing under the first bin, and of the rest what the estimator does not keep. A
 * noise fades out in 0.15 s once it is known. */
static void plain_band(const NoiseFloor *f, Plain *p, uint32_t b)
{
    const double step = f->stft.hop / (0.15 * RATE);
    p->part[b] += f->track.band[b].known && f->memory.level[b] != NOISE_NONE ? step : -step;
    p->part[b] = dsp_clamp(p->part[b], 0.0, 1.0);
    const double lowest = 1.0 - p->part[b] * (1.0 - plain_lowest(f, p, b));
    for (uint32_t k = f->track.edge[b]; k < f->track.edge[b + 1]; ++k) {
        const float power = (float)(p->re[k] * p->re[k] + p->im[k] * p->im[k]);
        float gain = 1.f;
        if (k >= FIRST && p->part[b] > 0.0)
            noise_gain_bins(&f->gain, &power, &f->track.noise[k], f->counts, (float)lowest, &p->before[k], &gain, 1);
        p->gain[k] = (double)gain;
    }
}

static void do_frame(NoiseFloor *f)
{
    f->works = false;
    for (uint32_t piece = 0; piece + 2 * STFT_STEPS < floor_frame_steps(f); ++piece)
        floor_frame_step(f, STFT_STEPS + piece);
}

static void each_bin_loses_its_share(void **state)
{
    (void)state;
    NoiseFloor *const f = calloc(1, sizeof *f);
    Plain *const p = calloc(1, sizeof *p);
    assert_true(f && p);
    make(f);
    Random random = random_stream(5, 1);
    for (uint32_t frame = 0; frame < FRAMES + 6; ++frame) {
        f->memory.level[9] = frame < 4 ? NOISE_NONE : 1000;
        f->track.band[12].known = frame < 18 || frame >= 25;
        f->lowest = frame >= FRAMES ? 1.f : frame % 3 ? 0.25f : 0.95f;
        next_spectrum(f, p, &random, frame);
        do_frame(f);
        assert_true(f->works == (frame < FRAMES));
        for (uint32_t b = 0; b < f->track.bands; ++b) {
            if (frame < FRAMES)
                plain_band(f, p, b);
            for (uint32_t k = f->track.edge[b]; k < f->track.edge[b + 1]; ++k) {
                const double gone = frame < FRAMES ? 1.0 - p->gain[k] : 0.0, scale = hypot(p->re[k], p->im[k]);
                assert_true(fabs((double)f->stft.re[0][k] - gone * p->re[k]) < 1e-4 * scale);
                assert_true(fabs((double)f->stft.im[0][k] - gone * p->im[k]) < 1e-4 * scale);
            }
        }
    }
    noise_floor.done(f);
    free(f);
    free(p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_bin_loses_its_share),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
