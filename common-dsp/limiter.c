#include "limiter.h"

#include "four_math.h"
#include "units.h"

#include <string.h>

#define ONE 16777216 /* 2^24, steps in a gain of 1: as far as a float counts without rounding */

/* Length of each of three means that fit into a look-ahead of n samples. */
static uint32_t mean_length(double n)
{
    return (uint32_t)fmax(1.0, floor(n / 3.0) + 1.0);
}

bool limiter_init(Limiter *l, double rate, uint32_t channels, uint32_t late)
{
    memset(l, 0, sizeof *l);
    if (!dsp_rate_ok(rate) || channels < 1 || channels > DSP_CHANNELS)
        return false;
    l->channels = channels;
    const uint32_t length = mean_length(floor(LIMITER_LOOK_AHEAD * rate) - late);
    l->latency = late + 3 * (length - 1);
    l->release = (int32_t)fmax(1.0, ONE / (LIMITER_RELEASE * rate));
    const uint32_t cells = (uint32_t)ceil(LIMITER_HOLD * rate / DSP_CELL);
    if (!triple_mean_init(&l->mean, length) || !peak_hold_init(&l->held, cells - 1) ||
        !delays_init(l->line, channels, l->latency))
        return false;
    l->step = 1.0 / (triple_mean_weight(&l->mean) * ONE);
    limiter_reset(l);
    return true;
}

void limiter_done(Limiter *l)
{
    triple_mean_done(&l->mean);
    peak_hold_done(&l->held);
    delays_done(l->line);
}

void limiter_reset(Limiter *l)
{
    delays_reset(l->line, l->channels);
    peak_hold_reset(&l->held);
    triple_mean_rest(&l->mean, 0);
    l->cell = l->recent = l->down = 0;
    l->moving = 0;
    l->gain = 1.0;
}

/* At rest everything that is held is 0 already. */
void limiter_tick(Limiter *l)
{
    if (!l->moving)
        return;
    l->recent = (int32_t)peak_hold_step(&l->held, (float)l->cell);
    l->cell = 0;
}

static int32_t larger(int32_t a, int32_t b)
{
    return a > b ? a : b;
}

/* How far the gain has to come down, in steps, rounded up so that the peak itself stays under the ceiling. */
static int32_t asked(float over)
{
    return over > 1.f ? (int32_t)fmin(ceil(ONE * (1.0 - 1.0 / (double)over)), ONE - 1) : 0;
}

static double next_gain(Limiter *l, float over)
{
    l->cell = larger(l->cell, asked(over));
    l->down = larger(larger(l->cell, l->recent), l->down - l->release);
    l->moving = l->down ? 3 * l->mean.length : l->moving - 1;
    return 1.0 - (double)triple_mean_step(&l->mean, l->down) * l->step;
}

static void turn_down(Limiter *l, const float *over, float *const *io, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i) {
        if (l->moving || over[i] > 1.f)
            l->gain = next_gain(l, over[i]);
        for (uint32_t c = 0; c < l->channels; ++c)
            io[c][i] = (float)(io[c][i] * l->gain);
    }
}

void limiter_pass(Limiter *l, const float *const *in, float *const *out, uint32_t n)
{
    delays_process(l->line, l->channels, l->latency, in, out, n);
}

void limiter_process(Limiter *l, const float *over, float *const *io, uint32_t n)
{
    delays_process(l->line, l->channels, l->latency, (const float *const *)io, io, n);
    if (l->moving || four_largest(over, n) > 1.f)
        turn_down(l, over, io, n);
}

double limiter_turned_down(const Limiter *l)
{
    return l->gain == 1.0 ? 0.0 : 0.0 - gain_to_db(l->gain);
}
