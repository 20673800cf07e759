#include "noise_gain.h"

#include "units.h"

#include <math.h>
#include <string.h>

#define PRIOR_TRUST      0.98  /* weight of the last frame in the a priori ratio */
#define PRIOR_TRUST_RATE 125.0 /* frames a second at which that holds: Ephraim and Malah (1984), from memory */
#define LEAST_PRIOR      0.03f /* or lowest gain squared if less: O. Cappe, IEEE TSAP 2 (1994), from memory */
#define LOWEST_OCTAVE    (-11) /* log2 of the table's first v */
#define EULER            0.57721566490153286 /* Euler's constant */
#define SERIES_TERMS     80                  /* terms of the series below */

/* E1(x) by its power series, x from 2^-11 to 16. Within 10^-9 at 16, where terms of 10^6 cancel. */
static double exponential_integral(double x)
{
    double sum = -EULER - log(x), term = -1.0;
    for (int k = 1; k <= SERIES_TERMS; ++k) {
        term *= -x / k;
        sum += term / k;
    }
    return sum;
}

void noise_gain_init(NoiseGain *g, double frames)
{
    g->trust = (float)pow(PRIOR_TRUST, PRIOR_TRUST_RATE / frames);
    for (int i = 0; i < NOISE_GAIN_OCTAVES * NOISE_GAIN_STEPS; ++i) {
        const double within = (i % NOISE_GAIN_STEPS + 0.5) / NOISE_GAIN_STEPS;
        const double v = ldexp(1.0 + within, LOWEST_OCTAVE + i / NOISE_GAIN_STEPS);
        g->factor[i] = (float)exp(0.5 * exponential_integral(v));
    }
}

/* The exponent of v and the upper five bits of its fraction are the index into the table. */
float noise_gain_factor(const NoiseGain *g, float v)
{
    uint32_t bits;
    memcpy(&bits, &v, sizeof bits);
    const int32_t at = (int32_t)(bits >> 18) - ((127 + LOWEST_OCTAVE) << 5);
    if (at >= NOISE_GAIN_OCTAVES * NOISE_GAIN_STEPS)
        return 1.f;
    return g->factor[at > 0 ? at : 0];
}

void noise_gain_bins(const NoiseGain *g, const float *power, const float *noise, float counts, float lowest,
                     float *before, float *gain, uint32_t n)
{
    const float trust = g->trust, news = 1.f - trust, least = fminf(LEAST_PRIOR, lowest * lowest);
    for (uint32_t k = 0; k < n; ++k) {
        const float over = power[k] / (counts * noise[k]);
        const float fresh = over > 1.f ? over - 1.f : 0.f, prior = trust * before[k] + news * fresh;
        const float ratio = prior > least ? prior : least, share = ratio / (1.f + ratio);
        const float best = share * noise_gain_factor(g, share * over);
        before[k] = best * best * over;
        gain[k] = best < lowest ? lowest : best > 1.f ? 1.f : best;
    }
}
