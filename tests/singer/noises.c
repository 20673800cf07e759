#include "noises.h"

#include "colour.h"
#include "dsp.h"

#include <math.h>

#define HUM_SWING  23.0   /* s */
#define CLICK_RISE 0.0001 /* s */

double add_hiss(Recording r, double rms, Random random)
{
    const double wide = rms * sqrt(0.3 * fmax(1, r.rate / 40000.0));
    const double low = rms * sqrt(0.7);
    const double k = 1 - exp(-2 * DSP_PI * 400 / r.rate);
    const double low_scale = low / sqrt(k / (2 - k));
    double s = 0;
    for (size_t i = 0; i < r.n; i++) {
        s += k * (random_noise(&random) - s);
        r.out[i] += (float)(low_scale * s + wide * random_noise(&random));
    }
    return sqrt(low * low + wide * wide);
}

double hum_frequency(double hz, double drift, double seconds)
{
    return hz * (1 + drift * sin(2 * DSP_PI * seconds / HUM_SWING));
}

/* Odd harmonics lead, as where a transformer saturates. */
static double harmonic_amplitude(unsigned h)
{
    return (h & 1 ? 1.0 : 0.4) / h;
}

enum { HARMONICS = 64 };

void add_hum(Recording r, double hz, double drift, unsigned harmonics, double rms, Random random)
{
    double offset[HARMONICS], level[HARMONICS], power = 0;
    unsigned count = harmonics < HARMONICS ? harmonics : HARMONICS;
    while (count > 1 && hz * (1 + drift) * count > 0.45 * r.rate)
        count--;
    for (unsigned h = 0; h < count; h++) {
        offset[h] = 2 * DSP_PI * random_unit(&random);
        level[h] = harmonic_amplitude(h + 1);
        power += 0.5 * level[h] * level[h];
    }
    const double scale = rms / sqrt(power);
    double re[HARMONICS], im[HARMONICS];
    for (unsigned h = 0; h < count; h++) {
        re[h] = scale * level[h] * cos(offset[h]);
        im[h] = scale * level[h] * sin(offset[h]);
    }
    double phase = 0;
    for (size_t i = 0; i < r.n; i++) {
        const double c = cos(phase), s = sin(phase);
        double hc = c, hs = s, sum = 0;
        for (unsigned h = 0; h < count; h++) {
            sum += re[h] * hs + im[h] * hc;
            const double next = hc * c - hs * s;
            hs = hs * c + hc * s;
            hc = next;
        }
        r.out[i] += (float)sum;
        phase += 2 * DSP_PI * hum_frequency(hz, drift, (double)i / r.rate) / r.rate;
    }
}

void add_breath(Recording r, double start, double end, double rms, Random random)
{
    NoiseBand band = noise_band(1650, 1.1, SKIRTS_EVEN, r.rate, random);
    const size_t from = (size_t)ceil(fmax(0, start) * r.rate);
    for (size_t i = from; i < r.n && (double)i < end * r.rate; i++) {
        const double x = ((double)i / r.rate - start) / (end - start);
        const double shape = sin(DSP_PI * x) * sin(DSP_PI * x) * (0.6 + 0.8 * x); /* mean square 0.387 */
        r.out[i] += (float)(rms / 0.622 * shape) * noise_band_next(&band);
    }
}

void add_click(Recording r, double at, double length, double peak, Random random)
{
    const double hz = random_between(&random, 1500, 5500), sign = random_unit(&random) < 0.5 ? -1 : 1;
    const size_t from = (size_t)ceil(at * r.rate);
    const double bend = fmin(hz, 0.35 * r.rate);
    for (size_t i = from; i < r.n && (double)i < (at + length) * r.rate; i++) {
        const double t = (double)i / r.rate - at, since_peak = t - CLICK_RISE;
        const double shape = fmin(1, t / CLICK_RISE) * exp(-5 * since_peak / length);
        r.out[i] += (float)(sign * peak * shape * cos(2 * DSP_PI * bend * since_peak));
    }
}

void add_pop(Recording r, double at, double peak, Random random)
{
    const double hz = random_between(&random, 45, 80), rise = random_between(&random, 0.012, 0.02);
    const double turn = random_between(&random, -0.3, 0.3);
    const size_t from = (size_t)ceil(at * r.rate);
    for (size_t i = from; i < r.n && (double)i < (at + POP_LENGTH) * r.rate; i++) {
        const double t = (double)i / r.rate - at;
        const double end = fmin(1, (POP_LENGTH - t) / 0.02);
        const double shape = t / rise * exp(1 - t / rise);
        r.out[i] += (float)(peak * end * shape * shape * cos(2 * DSP_PI * hz * (t - rise) + turn));
    }
}
