#include "removal.h"

#include "four.h"
#include "units.h"

#include <math.h>

/* The sum of four lanes and of the samples left over. */
static double sum_of(Four lanes, float over)
{
    float x[FOUR];
    four_store(x, lanes);
    return (double)((x[0] + x[1]) + (x[2] + x[3]) + over);
}

static Four square(Four x)
{
    return four_mul(x, x);
}

void removal_hear(Removal *r, const float *in, const float *removed, uint32_t n)
{
    Four came = four_all(0.f), gone = came, left = came;
    uint32_t t = 0;
    for (; t + FOUR <= n; t += FOUR) {
        const Four x = four_load(in + t), y = four_load(removed + t);
        came = four_add(came, square(x));
        gone = four_add(gone, square(y));
        left = four_add(left, square(four_sub(x, y)));
    }
    float over[3] = {0.f};
    for (; t < n; ++t) {
        over[0] += in[t] * in[t];
        over[1] += removed[t] * removed[t];
        over[2] += (in[t] - removed[t]) * (in[t] - removed[t]);
    }
    const double all = sum_of(came, over[0]);
    r->in += all;
    r->in_lately += all;
    r->removed += sum_of(gone, over[1]);
    r->out_lately += sum_of(left, over[2]);
}

void removal_forget(Removal *r, double keep)
{
    r->in_lately *= keep;
    r->out_lately *= keep;
}

double removal_down(const Removal *r)
{
    return r->out_lately < r->in_lately ? power_to_db(r->out_lately / r->in_lately) : 0.0;
}

double removal_share(const Removal *r)
{
    return r->in > 0.0 ? fmin(100.0 * r->removed / r->in, 100.0) : 0.0;
}

void removal_leave(const float *in, const float *removed, float gain, float *out, uint32_t n)
{
    const Four by = four_all(gain);
    uint32_t t = 0;
    for (; t + FOUR <= n; t += FOUR)
        four_store(out + t, four_mul(by, four_sub(four_load(in + t), four_load(removed + t))));
    for (; t < n; ++t)
        out[t] = gain * (in[t] - removed[t]);
}

void removal_put_out(Fade *hear, Smooth *gain, float late[][DSP_CELL], float removed[][DSP_CELL], float *const *out,
                     uint32_t channels, uint32_t n)
{
    const bool plain = fade_rests_at(hear, false);
    if (plain && (!gain || smooth_settled(gain))) {
        for (uint32_t c = 0; c < channels; ++c)
            removal_leave(late[c], removed[c], gain ? (float)gain->value : 1.f, out[c], n);
        return;
    }
    for (uint32_t t = 0; t < n; ++t) {
        const float heard = plain ? 0.f : (float)fade_step(hear), by = gain ? (float)smooth_step(gain) : 1.f;
        for (uint32_t c = 0; c < channels; ++c) {
            const float gone = removed[c][t], left = late[c][t] - gone;
            out[c][t] = by * (plain ? left : (1.f - heard) * left + heard * gone);
        }
    }
}
