#include "regular.h"

#include "dsp.h"

#include <math.h>

/* Chosen, not searched. */
#define SLOWEST (40.0 / 60.0) /* Hz */
#define FASTEST (210.0 / 60.0)
#define STEP    0.01  /* beats over the window, from one rate to the next */
#define NEAR    0.012 /* s: clicks are told to within 10 ms */
#define SHARE   0.75  /* of the clicks */
#define WINDOW  120.0 /* s: clicks that are looked at together */

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
static double phase_of(const double *time, uint32_t times, double hz)
{
    double re = 0.0, im = 0.0;
    for (uint32_t k = 0; k < times; ++k) {
        re += cos(2.0 * DSP_PI * hz * time[k]);
        im += sin(2.0 * DSP_PI * hz * time[k]);
    }
    return atan2(im, re) / (2.0 * DSP_PI);
}

static uint32_t on_the_beat(const double *time, uint32_t times, double hz)
{
    const double phase = phase_of(time, times, hz);
    uint32_t near = 0;
    for (uint32_t k = 0; k < times; ++k) {
        const double beat = hz * time[k] - phase;
        near += fabs(beat - round(beat)) < NEAR * hz;
    }
    return near;
}

/* Hz; 0: they are not regular. */
static double rate_of(const double *time, uint32_t times)
{
    const double step = STEP / fmax(time[times - 1] - time[0], 1.0);
    double best = 0.0;
    uint32_t most = 0;
    for (double hz = SLOWEST; hz <= FASTEST && (!most || hz < 1.01 * best); hz += step) {
        const uint32_t near = on_the_beat(time, times, hz);
        if (near < LEAST || near < SHARE * times || near <= most)
            continue;
        most = near;
        best = hz;
    }
    return best;
}

double regular_rate(const Regular *r)
{
    double hz = 0.0;
    for (uint32_t from = 0, times; from < r->times && hz == 0.0; from += times) {
        times = 1;
        while (from + times < r->times && r->time[from + times] < r->time[from] + WINDOW)
            ++times;
        hz = times < LEAST ? 0.0 : rate_of(r->time + from, times);
    }
    return 60.0 * hz;
}
