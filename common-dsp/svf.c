#include "svf.h"

#include <complex.h>
#include <math.h>

const Biquad biquad_identity = {.b0 = 1.0};

double biquad_gain(const Biquad *b, double hz, double rate)
{
    const double w = 2.0 * DSP_PI * hz / rate;
    const double complex z1 = cos(w) - I * sin(w), z2 = z1 * z1;
    return cabs(b->b0 + b->b1 * z1 + b->b2 * z2) / cabs(1.0 + b->a1 * z1 + b->a2 * z2);
}

/* The trapezoidal state-variable filter has the denominator 1 + gk + g^2 at z^0, and
 * 1 + a1 + a2 = 4 g^2 / d, 1 - a1 + a2 = 4 / d, 1 - a2 = 2 g k / d: solved for g and k. The numerator is matched at
 * z = -1 (high-pass part), z = 1 (low-pass part) and in b0 - b2 (band-pass part); the high-pass output is then written
 * as input - k band - low, which makes the identity exact. With band = c (s1 + g v), low = s2 + g band, where
 * v = x - s2 and c = 1 / d, the integrators' next states are 2 band - s1 and 2 low - s2. */
Svf svf_from_biquad(const Biquad *b)
{
    const double at_nyquist = 1.0 - b->a1 + b->a2, at_dc = 1.0 + b->a1 + b->a2;
    const double g = sqrt(at_dc / at_nyquist);
    const double k = 2.0 * (1.0 - b->a2) / (at_nyquist * g);
    const double high = (b->b0 - b->b1 + b->b2) / at_nyquist;
    const double band = 2.0 * (b->b0 - b->b2) / (at_nyquist * g) - high * k;
    const double low = (b->b0 + b->b1 + b->b2) / at_dc - high;
    const double c = 1.0 / (1.0 + g * (g + k)), through = c * (band + low * g);
    return (Svf){.direct = high + g * through,
                 .by_first = through,
                 .by_second = low - g * through,
                 .keep = 2.0 * c - 1.0,
                 .lift = 2.0 * c * g,
                 .rise = 2.0 * c * g * g};
}

Svf svf_flat(const Svf *c)
{
    return (Svf){.direct = 1.0, .keep = c->keep, .lift = c->lift, .rise = c->rise};
}

static double between(double from, double goal, double way)
{
    return from + way * (goal - from);
}

Svf svf_between(const Svf *from, const Svf *goal, double way)
{
    return (Svf){.direct = between(from->direct, goal->direct, way),
                 .by_first = between(from->by_first, goal->by_first, way),
                 .by_second = between(from->by_second, goal->by_second, way),
                 .keep = between(from->keep, goal->keep, way),
                 .lift = between(from->lift, goal->lift, way),
                 .rise = between(from->rise, goal->rise, way)};
}
