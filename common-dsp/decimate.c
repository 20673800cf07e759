#include "decimate.h"

#include "design.h"

#include <math.h>
#include <string.h>

void decimate_init(Decimator *d, uint32_t factor, double corner, double rate)
{
    memset(d, 0, sizeof *d);
    d->factor = factor;
    d->corner = corner;
    Biquad section[DECIMATE_SECTIONS];
    design_butterworth_low_pass(2 * DECIMATE_SECTIONS, corner, rate, section);
    for (uint32_t i = 0; i < DECIMATE_SECTIONS; ++i)
        d->filter[i] = svf_from_biquad(&section[i]);
}

void decimate_reset(Decimator *d)
{
    memset(d->state, 0, sizeof d->state);
    d->phase = 0;
}

bool decimate_step(Decimator *d, double x, double *out)
{
    for (uint32_t i = 0; i < DECIMATE_SECTIONS; ++i)
        x = svf_step(&d->filter[i], &d->state[i], x);
    if (++d->phase < d->factor)
        return false;
    d->phase = 0;
    decimate_hush(d);
    *out = x;
    return true;
}

uint32_t decimate_run(Decimator *d, double *x, uint32_t n, double *out)
{
    uint32_t kept = 0;
    lanes_run(d->filter, d->state, DECIMATE_SECTIONS, x, n);
    for (uint32_t t = d->factor - 1 - d->phase; t < n; t += d->factor)
        out[kept++] = x[t];
    d->phase = (d->phase + n) % d->factor;
    return kept;
}

void decimate_hush(Decimator *d)
{
    for (uint32_t i = 0; i < DECIMATE_SECTIONS; ++i)
        svf_hush(&d->state[i]);
}

double decimate_power(const Decimator *d, double hz)
{
    return 1.0 / (1.0 + pow(hz / d->corner, 4.0 * DECIMATE_SECTIONS));
}
