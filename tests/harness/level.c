#include "level.h"

#include "four_math.h"
#include "units.h"

#include <math.h>
#include <stdlib.h>

enum { BLOCK_HOPS = 4 };

#define GATE_LOW      1e-7 /* -70 dB, as a power */
#define GATE_RELATIVE 0.1  /* 10 dB under the mean */

void level_init(Level *l, double rate, uint32_t channels)
{
    *l = (Level){.channels = channels, .hop = (uint32_t)lrint(0.1 * rate), .ok = true};
    loudness_init(&l->loudness, rate, channels);
}

void level_done(Level *l)
{
    free(l->hops);
    l->hops = NULL;
}

static void end_hop(Level *l)
{
    if (l->used == l->room) {
        const size_t room = l->room ? 2 * l->room : 1024;
        double *more = realloc(l->hops, room * sizeof *more);
        l->ok &= more != NULL;
        if (!more)
            return;
        l->hops = more;
        l->room = room;
    }
    l->hops[l->used++] = l->sum / (double)l->hop / (double)l->channels;
    l->sum = 0.0;
    l->at = 0;
}

/* In four sums, so that one addition in four waits for the one before it. */
static double energy_of(const float *x, uint32_t n)
{
    double sum[4] = {0.0};
    uint32_t i = 0;
    for (; i + 4 <= n; i += 4)
        for (uint32_t k = 0; k < 4; ++k)
            sum[k] += (double)x[i + k] * (double)x[i + k];
    for (; i < n; ++i)
        sum[0] += (double)x[i] * (double)x[i];
    return (sum[0] + sum[1]) + (sum[2] + sum[3]);
}

void level_process(Level *l, const float *const *in, uint32_t n)
{
    loudness_process(&l->loudness, in, n);
    for (uint32_t c = 0; c < l->channels; ++c)
        l->peak = fmax(l->peak, (double)four_largest(in[c], n));
    for (uint32_t at = 0, m; at < n && l->ok; at += m) {
        m = n - at < l->hop - l->at ? n - at : l->hop - l->at;
        for (uint32_t c = 0; c < l->channels; ++c)
            l->sum += energy_of(in[c] + at, m);
        l->at += m;
        if (l->at == l->hop)
            end_hop(l);
    }
}

/* Power of the block that starts at a hop. */
static double block_power(const Level *l, size_t hop)
{
    double sum = 0.0;
    for (size_t i = 0; i < BLOCK_HOPS; ++i)
        sum += l->hops[hop + i];
    return sum / BLOCK_HOPS;
}

/* Mean power of the blocks above a gate; 0: none. */
static double mean_above(const Level *l, double gate)
{
    double sum = 0.0;
    size_t blocks = 0;
    for (size_t hop = 0; hop + BLOCK_HOPS <= l->used; ++hop) {
        const double power = block_power(l, hop);
        if (power > gate) {
            sum += power;
            ++blocks;
        }
    }
    return blocks ? sum / (double)blocks : 0.0;
}

double level_rms(const Level *l)
{
    const double loose = mean_above(l, GATE_LOW);
    return power_to_db(mean_above(l, fmax(GATE_LOW, loose * GATE_RELATIVE)));
}

double level_loudness(const Level *l)
{
    const double lufs = loudness_integrated(&l->loudness);
    return l->channels == 1 && lufs > LOUDNESS_LOW ? lufs + LEVEL_BOTH : lufs;
}

double level_peak(const Level *l)
{
    return gain_to_db(l->peak);
}
