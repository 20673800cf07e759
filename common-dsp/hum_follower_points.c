#include "hum_follower_points.h"

#include "four.h"
#include "inlined.h"

static float sum_of(Four x)
{
    float lane[FOUR];
    four_store(lane, x);
    return (lane[0] + lane[2]) + (lane[1] + lane[3]);
}

static inline void add(float *to, Four x)
{
    four_store(to, four_add(four_load(to), x));
}

/* Of the samples since the last point: their sum, the sum of each times its place, their energy, and what is left of
 * that without the hum. */
typedef struct {
    float sum, placed, energy, left;
} Stretch;

/* Where there are fewer than four samples to a point, those behind them in `in` and `out` are 0. */
static Stretch stretch_of(const HumFollower *f, const FollowerChannel *c)
{
    static const float first[FOUR] = {0.f, 1.f, 2.f, 3.f};
    Four sum = four_all(0.f), placed = sum, energy = sum, left = sum, place = four_load(first);
    for (uint32_t i = 0; i < f->stride; i += FOUR) {
        const Four x = four_load(c->in + i), rest = four_sub(x, four_load(c->out + i));
        sum = four_add(sum, x);
        placed = four_add(placed, four_mul(x, place));
        energy = four_add(energy, four_mul(x, x));
        left = four_add(left, four_mul(rest, rest));
        place = four_add(place, four_all((float)FOUR));
    }
    return (Stretch){sum_of(sum), sum_of(placed), sum_of(energy), sum_of(left)};
}

/* The mean round the point before the last, correlated with the reference. */
static void correlate(HumFollower *f, FollowerChannel *c)
{
    const Stretch s = stretch_of(f, c);
    const float scale = 1.f / (float)f->stride, near = (s.placed + 0.5f * s.sum) * scale;
    const float x = (c->rising + (s.sum - near)) * scale;
    const Four mean = four_all(x), rising = four_all(x * f->risen), risen = four_all(x * f->risen * f->risen);
    c->rising = near;
    f->energy += (double)s.energy;
    f->left += (double)s.left;
    UNROLLED
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; k += FOUR) {
        const Four re = four_load(f->reference.re + k), im = four_load(f->reference.im + k);
        add(c->sum[0].re + k, four_mul(mean, re));
        add(c->sum[0].im + k, four_mul(mean, im));
        add(c->sum[1].re + k, four_mul(rising, re));
        add(c->sum[1].im + k, four_mul(rising, im));
        add(c->sum[2].re + k, four_mul(risen, re));
        add(c->sum[2].im + k, four_mul(risen, im));
    }
}

static void turn_reference(HumFollower *f)
{
    UNROLLED
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; k += FOUR) {
        const Four re = four_load(f->reference.re + k), im = four_load(f->reference.im + k);
        const Four a = four_load(f->rotate.re + k), b = four_load(f->rotate.im + k);
        four_store(f->reference.re + k, four_sub(four_mul(re, a), four_mul(im, b)));
        four_store(f->reference.im + k, four_add(four_mul(re, b), four_mul(im, a)));
    }
}

/* The hum and its slope at the next point. */
static void look_ahead(const HumFollower *f, FollowerChannel *c)
{
    Four value = four_all(0.f), slope = four_all(0.f);
    UNROLLED
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; k += FOUR) {
        const Four re = four_load(f->reference.re + k), im = four_load(f->reference.im + k);
        const Four a = four_add(four_load(c->put.re + k), four_load(c->glide.re + k));
        const Four b = four_add(four_load(c->put.im + k), four_load(c->glide.im + k));
        four_store(c->put.re + k, a);
        four_store(c->put.im + k, b);
        value = four_add(value, four_add(four_mul(a, re), four_mul(b, im)));
        const Four turned = four_sub(four_mul(b, re), four_mul(a, im));
        slope = four_add(slope, four_mul(turned, four_load(f->slope + k)));
    }
    c->here = c->ahead;
    c->slope_here = c->slope;
    c->ahead = sum_of(value);
    c->slope = sum_of(slope);
}

/* Up to the next point, the cubic that has the value and the slope of the hum at both (Hermite). */
static void interpolate(const HumFollower *f, FollowerChannel *c)
{
    const float step = c->ahead - c->here;
    const float third = c->slope_here + c->slope - 2.f * step, second = step - c->slope_here - third;
    if (f->stride < FOUR) {
        for (uint32_t i = 0; i < f->stride; ++i)
            c->out[i] = c->here + f->along[i] * (c->slope_here + f->along[i] * (second + f->along[i] * third));
        return;
    }
    for (uint32_t i = 0; i < f->stride; i += FOUR) {
        const Four u = four_load(f->along + i);
        Four y = four_add(four_all(second), four_mul(u, four_all(third)));
        y = four_add(four_all(c->slope_here), four_mul(u, y));
        four_store(c->out + i, four_add(four_all(c->here), four_mul(u, y)));
    }
}

void follower_step_point(HumFollower *f)
{
    for (uint32_t c = 0; c < f->channels; ++c)
        correlate(f, &f->channel[c]);
    f->risen += f->rises;
    turn_reference(f);
    for (uint32_t c = 0; f->puts_out && c < f->channels; ++c) {
        look_ahead(f, &f->channel[c]);
        interpolate(f, &f->channel[c]);
    }
}
