#include "ticks_going.h"

#include "units.h"

#include <string.h>

void ticks_send(Ticks *t)
{
    TicksGoing *const g = &t->going[t->gone++ % TICKS_GOING];
    const double share = 1.0 - db_to_gain(-t->params.down);
    g->from = t->tick.from;
    g->n = t->tick.n;
    for (uint32_t c = 0; c < t->channels; ++c)
        for (uint32_t i = 0; i < g->n; ++i)
            g->tick[c][i] = (float)(share * t->repair.tick[c][i]);
}

/* What the tick adds to a sample at the full rate: the low-pass that thinned the sound out interpolates it. */
static float tick_at(const Ticks *t, const TicksGoing *g, uint32_t channel, int64_t sample)
{
    const int64_t factor = t->factor, ahead = factor > 1 ? THIN_TAPS - 1 : 0;
    const int64_t last = sample / factor + ahead - (int64_t)g->from;
    if (factor == 1)
        return last >= 0 && last < g->n ? g->tick[channel][last] : 0.f;
    float sum = 0.f;
    for (int64_t k = 0; k < THIN_TAPS; ++k)
        if (last - k >= 0 && last - k < g->n)
            sum += t->thin[channel].tap[sample % factor + k * factor] * g->tick[channel][last - k];
    return (float)factor * sum;
}

static bool is_near(const Ticks *t, const TicksGoing *g, int64_t from, uint32_t n)
{
    const int64_t reach = t->factor > 1 ? THIN_TAPS : 0, first = (int64_t)g->from * t->factor;
    return g->n && from + n + reach * t->factor > first && from < first + (int64_t)(g->n + reach) * t->factor;
}

bool ticks_gather(const Ticks *t, int64_t from, float gone[][DSP_CELL], uint32_t n)
{
    bool any = false;
    memset(gone, 0, DSP_CHANNELS * sizeof *gone);
    for (uint32_t g = 0; g < TICKS_GOING; ++g) {
        if (!is_near(t, &t->going[g], from, n))
            continue;
        any = true;
        for (uint32_t c = 0; c < t->channels; ++c)
            for (uint32_t i = 0; i < n; ++i)
                gone[c][i] += tick_at(t, &t->going[g], c, from + i);
    }
    return any;
}

bool ticks_are_going(const Ticks *t, int64_t from, uint32_t n)
{
    bool any = false;
    for (uint32_t g = 0; g < TICKS_GOING; ++g)
        any |= is_near(t, &t->going[g], from, n);
    return any;
}
