#include "colour.h"

#include "dsp.h"

#include <math.h>

#define HIGHEST 0.45 /* of the rate: where the centre of a band of noise is held */

static Colour scaled(double b0, double b1, double b2, double a0, double a1, double a2)
{
    return (Colour){{b0 / a0, b1 / a0, b2 / a0}, {a1 / a0, a2 / a0}, {0, 0}};
}

Colour colour_bell(double hz, double db, double q, double rate)
{
    if (hz >= 0.48 * rate)
        return scaled(1, 0, 0, 1, 0, 0);
    const double w = 2 * DSP_PI * hz / rate, A = pow(10, db / 40), alpha = sin(w) / (2 * q);
    return scaled(1 + alpha * A, -2 * cos(w), 1 - alpha * A, 1 + alpha / A, -2 * cos(w), 1 - alpha / A);
}

Colour colour_band(double hz, double q, double rate)
{
    const double w = 2 * DSP_PI * fmin(hz, HIGHEST * rate) / rate, alpha = sin(w) / (2 * q);
    return scaled(alpha, 0, -alpha, 1 + alpha, -2 * cos(w), 1 - alpha);
}

Colour colour_fall(double hz, double rate)
{
    if (hz >= 0.48 * rate)
        return scaled(1, 0, 0, 1, 0, 0);
    const double k = tan(DSP_PI * hz / rate);
    return scaled(k, k, 0, 1 + k, k - 1, 0);
}

static inline double colour_next(Colour *c, double x)
{
    const double y = c->b[0] * x + c->s[0];
    c->s[0] = c->b[1] * x - c->a[0] * y + c->s[1];
    c->s[1] = c->b[2] * x - c->a[1] * y;
    return y;
}

void colour_run(Colour *c, float *x, size_t n)
{
    for (size_t i = 0; i < n; i++)
        x[i] = (float)colour_next(c, x[i]);
    c->s[0] = dsp_hush(c->s[0]);
    c->s[1] = dsp_hush(c->s[1]);
}

static double noise_band_filter(NoiseBand *n, double x)
{
    for (int i = 0; i < n->order; i++)
        x = colour_next(&n->band[i], x);
    return x;
}

/* What is left of a band, in power, when its centre has to be held lower: its skirt there. */
static double skirt(double hz, double held, double q, int order)
{
    const double off = q * (held / hz - hz / held);
    return pow(1 + off * off, -0.5 * order);
}

NoiseBand noise_band(double hz, double q, int order, double rate, Random random)
{
    NoiseBand n = {.order = order, .random = random};
    for (int i = 0; i < order; i++)
        n.band[i] = colour_band(hz, q, rate);
    NoiseBand probe = n;
    double energy = 0;
    const int length = (int)fmax(256, 8 * rate / hz * fmax(q, 1));
    for (int i = 0; i < length; i++) {
        const double y = noise_band_filter(&probe, i == 0);
        energy += y * y;
    }
    n.scale = skirt(hz, fmin(hz, HIGHEST * rate), q, order) / sqrt(energy);
    return n;
}

float noise_band_next(NoiseBand *n)
{
    return (float)(n->scale * noise_band_filter(n, random_noise(&n->random)));
}
