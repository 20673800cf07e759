#include "hum_track_windows.h"

#include "four.h"
#include "hum_track_inside.h"
#include "inlined.h"

/* rad/s beyond the nominal. */
static double speed_at(const HumTrack *t, uint32_t b)
{
    const uint32_t from = b ? b - 1 : b, to = b + 1 < t->blocks ? b + 1 : b;
    return to > from ? (t->block[to].phase - t->block[from].phase) / ((to - from) * t->seconds) : 0.0;
}

/* One more point, of weight x, and the reference a point on. */
static void hear_point(FollowerRows *sum, FollowerRows *reference, const FollowerRows *rotate, float x)
{
    const Four weight = four_all(x);
    UNROLLED
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; k += FOUR) {
        const Four re = four_load(reference->re + k), im = four_load(reference->im + k);
        const Four a = four_load(rotate->re + k), b = four_load(rotate->im + k);
        four_store(sum->re + k, four_add(four_load(sum->re + k), four_mul(weight, re)));
        four_store(sum->im + k, four_sub(four_load(sum->im + k), four_mul(weight, im)));
        four_store(reference->re + k, four_sub(four_mul(re, a), four_mul(im, b)));
        four_store(reference->im + k, four_add(four_mul(re, b), four_mul(im, a)));
    }
}

/* Under a Hann window, by a reference that turns as the curve does in its middle. */
static void hear_window(HumTrack *t, uint32_t b, uint32_t c)
{
    const uint32_t n = TRACK_SPAN * t->length;
    const double a_point = t->take.stride / t->take.rate, speed = (t->nominal + speed_at(t, b)) * a_point;
    const double phase = t->block[b].phase + t->nominal * a_point * track_middle(t, b);
    const float *const point = t->take.point[c] + (size_t)b * t->length;
    FollowerRows sum = {{0.f}, {0.f}}, reference, rotate;
    pair_harmonics(fmod(phase - 0.5 * (n - 1.0) * speed, 2.0 * DSP_PI), &reference);
    pair_harmonics(speed, &rotate);
    for (uint32_t i = 0; i < n; ++i)
        hear_point(&sum, &reference, &rotate, point[i] * (float)t->work[i]);
    for (uint32_t k = 0; k < t->harmonics; ++k)
        pair_put(&t->block[b].heard[c], k,
                 (Pair){(double)(sum.re[k] * t->scale[k]), (double)(sum.im[k] * t->scale[k])});
}

/* The work rows hold a window's weights. */
void track_hear(HumTrack *t)
{
    const uint32_t n = TRACK_SPAN * t->length;
    for (uint32_t i = 0; i < n; ++i)
        t->work[i] = (1.0 - cos(2.0 * DSP_PI * (i + 0.5) / n)) / n;
    for (uint32_t b = 0; b < t->blocks; ++b)
        for (uint32_t c = 0; c < t->take.channels; ++c)
            hear_window(t, b, c);
}

double track_power(const HumTrack *t, uint32_t from, uint32_t n)
{
    double sum = 0.0;
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t i = from; i < from + n; ++i)
            sum += (double)t->take.point[c][i] * (double)t->take.point[c][i] / n;
    return sum;
}
