#include "colour.h"

#include "dsp.h"

#include <math.h>

#define HIGHEST         0.45 /* of the rate: where the centre of a band of noise is held */
#define SIBILANT_CORNER 0.8  /* of a sibilant's peak: its spectrum falls steeply below */

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
    const double w = 2 * DSP_PI * hz / rate, alpha = sin(w) / (2 * q);
    return scaled(alpha, 0, -alpha, 1 + alpha, -2 * cos(w), 1 - alpha);
}

Colour colour_fall(double hz, double rate)
{
    if (hz >= 0.48 * rate)
        return scaled(1, 0, 0, 1, 0, 0);
    const double k = tan(DSP_PI * hz / rate);
    return scaled(k, k, 0, 1 + k, k - 1, 0);
}

Colour colour_rise(double hz, double q, double rate)
{
    const double w = 2 * DSP_PI * hz / rate, alpha = sin(w) / (2 * q), c = cos(w);
    return scaled((1 + c) / 2, -(1 + c), (1 + c) / 2, 1 + alpha, -2 * c, 1 - alpha);
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
    for (int i = 0; i < n->stages; i++)
        x = colour_next(&n->stage[i], x);
    return x;
}

/* What is left of a band when its centre has to be held lower: its skirt there. */
static double skirt(double hz, double held, double q, Skirts skirts)
{
    const double off = q * (held / hz - hz / held);
    const double corner = SIBILANT_CORNER * hz / held;
    const double steep = skirts == SKIRTS_SIBILANT && held < hz ? 1 / sqrt(1 + pow(corner, 8)) : 1;
    return steep / sqrt(1 + off * off);
}

static double impulse_energy(NoiseBand n, double length)
{
    double energy = 0;
    for (int i = 0; i < length; i++) {
        const double y = noise_band_filter(&n, i == 0);
        energy += y * y;
    }
    return energy;
}

NoiseBand noise_band(double hz, double q, Skirts skirts, double rate, Random random)
{
    const double held = fmin(hz, HIGHEST * rate), corner = SIBILANT_CORNER * held;
    NoiseBand n = {.stages = 1, .random = random};
    n.stage[0] = colour_band(held, q, rate);
    if (skirts == SKIRTS_SIBILANT) { /* a Butterworth high-pass of the fourth order */
        n.stages = 3;
        n.stage[1] = colour_rise(corner, 0.54119610, rate);
        n.stage[2] = colour_rise(corner, 1.30656296, rate);
    }
    n.scale = skirt(hz, held, q, skirts) / sqrt(impulse_energy(n, fmax(256, 8 * rate / held * fmax(q, 1))));
    return n;
}

float noise_band_next(NoiseBand *n)
{
    return (float)(n->scale * noise_band_filter(n, random_noise(&n->random)));
}
