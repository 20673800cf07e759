#include "regular.h"

#include "dsp.h"

#include <math.h>

#define SLOWEST (40.0 / 60.0) /* Hz */
#define FASTEST (210.0 / 60.0)
#define STEP    0.01  /* beats over the whole take, from one rate to the next */
#define NEAR    0.012 /* s: clicks are told to within 10 ms */
#define SHARE   0.75  /* of the clicks */

enum { LEAST = 12 };

bool regular_start(Regular *r, double rate, uint32_t channels)
{
    *r = (Regular){.rate = rate};
    return clicks_init(&r->clicks, rate, channels);
}

void regular_free(Regular *r)
{
    clicks_done(&r->clicks);
}

static void hear_cell(Regular *r, const float *const *cell, uint32_t n)
{
    double db;
    clicks_process(&r->clicks, cell, n);
    r->heard += n;
    if (clicks_found(&r->clicks, &db) && r->times < REGULAR_MOST)
        r->time[r->times++] = (double)r->heard / r->rate - CLICKS_LAG;
}

void regular_hear(Regular *r, const float *const *in, uint32_t channels, uint32_t n)
{
    float cell[DSP_CHANNELS][DSP_CELL];
    for (uint32_t at = 0; at < n; at += DSP_CELL) {
        const uint32_t part = n - at < DSP_CELL ? n - at : DSP_CELL;
        for (uint32_t c = 0; c < channels; ++c)
            for (uint32_t i = 0; i < part; ++i)
                cell[c][i] = dsp_undamaged(in[c][at + i]);
        hear_cell(r, (const float *[]){cell[0], cell[1]}, part);
    }
}

/* Where in a beat, 0..1, the clicks lie on average. */
static double phase_of(const Regular *r, double hz)
{
    double re = 0.0, im = 0.0;
    for (uint32_t k = 0; k < r->times; ++k) {
        re += cos(2.0 * DSP_PI * hz * r->time[k]);
        im += sin(2.0 * DSP_PI * hz * r->time[k]);
    }
    return atan2(im, re) / (2.0 * DSP_PI);
}

static uint32_t on_the_beat(const Regular *r, double hz)
{
    const double phase = phase_of(r, hz);
    uint32_t near = 0;
    for (uint32_t k = 0; k < r->times; ++k) {
        const double beat = hz * r->time[k] - phase;
        near += fabs(beat - round(beat)) < NEAR * hz;
    }
    return near;
}

double regular_rate(const Regular *r)
{
    if (r->times < LEAST)
        return 0.0;
    const double step = STEP / fmax(r->time[r->times - 1] - r->time[0], 1.0);
    double best = 0.0;
    uint32_t most = 0;
    for (double hz = SLOWEST; hz <= FASTEST && (!most || hz < 1.01 * best); hz += step) {
        const uint32_t near = on_the_beat(r, hz);
        if (near < LEAST || near < SHARE * r->times || near <= most)
            continue;
        most = near;
        best = hz;
    }
    return 60.0 * best;
}
