#include "glottis.h"

#include "dsp.h"

#include <math.h>
#include <string.h>

#define JITTER  0.004 /* largest random change of a period */
#define SHIMMER 0.03  /* and of its strength */

/* A Blackman-windowed sinc, cut at 0.45 of the rate, is what a corner's second derivative becomes. */
void corners_make(Corners *c)
{
    double step = 0, ramp = 0, total = 0;
    double kernel[CORNER_POINTS];
    for (int i = 0; i < CORNER_POINTS; i++) {
        const double x = (double)i / CORNER_STEPS - CORNER_HALF;
        const double phase = DSP_PI * x / CORNER_HALF;
        const double window = fabs(x) < CORNER_HALF ? 0.42 + 0.5 * cos(phase) + 0.08 * cos(2 * phase) : 0;
        const double u = 0.9 * DSP_PI * x;
        kernel[i] = window * (fabs(u) < 1e-9 ? 1 : sin(u) / u);
        total += kernel[i];
    }
    for (int i = 0; i < CORNER_POINTS; i++) { /* trapezoids: symmetric, so the ramp ends on its asymptote */
        const double before = step;
        step += 0.5 * (kernel[i] + (i ? kernel[i - 1] : 0)) / total;
        ramp += 0.5 * (before + step) / CORNER_STEPS;
        c->step[i] = step;
        c->ramp[i] = ramp;
    }
}

/* Adds what a band-limited corner at `at` has over the plain one already drawn: a step and a change of slope. */
static void round_corner(const Corners *c, double at, double step, double slope, float *out, size_t n)
{
    const long first = (long)floor(at) - CORNER_HALF + 1;
    for (long i = first; i < first + 2L * CORNER_HALF; i++) {
        if (i < 0 || i >= (long)n)
            continue;
        const double x = (double)i - at;
        const double place = (x + CORNER_HALF) * CORNER_STEPS;
        const int k = (int)place;
        const double f = place - k;
        const double smooth_step = c->step[k] + f * (c->step[k + 1] - c->step[k]);
        const double smooth_ramp = c->ramp[k] + f * (c->ramp[k + 1] - c->ramp[k]);
        out[i] += (float)(step * (smooth_step - (x >= 0)) + slope * (smooth_ramp - (x >= 0 ? x : 0)));
    }
}

static double track_at(const float *track, const GlottisTracks *t, double at)
{
    const double place = fmin(fmax(at / t->tick, 0), (double)(t->ticks - 1));
    const size_t k = (size_t)place;
    const size_t next = k + 1 < t->ticks ? k + 1 : k;
    return track[k] + (place - (double)k) * (track[next] - track[k]);
}

/* One period from `start`: flow u^2 - u^3 while open, hence 2u - 3u^2; shut at u = 1 (KLGLOTT88). */
static void draw_pulse(const Corners *c, double start, double period, double open, double strength, float *out,
                       size_t n)
{
    const double length = open * period;
    for (size_t i = (size_t)ceil(start); i < n && (double)i < start + length; i++) {
        const double u = ((double)i - start) / length;
        out[i] += (float)(strength * u * (2 - 3 * u));
    }
    round_corner(c, start, 0, 2 * strength / length, out, n);
    round_corner(c, start + length, strength, 4 * strength / length, out, n);
}

/* Breath is louder while the glottis is open. Its level per Hz does not depend on the rate. */
static void add_breath(const GlottisTracks *t, double start, double end, double open_end, double voiced, double per_hz,
                       Random *random, float *out, size_t n)
{
    for (size_t i = (size_t)ceil(start); i < n && (double)i < end; i++) {
        const double flow = voiced * ((double)i < open_end ? 1 : 0.4) + t->breath[i / t->tick];
        out[i] += (float)(per_hz * flow) * random_noise(random);
    }
}

void glottis_sing(const Glottis *g, const Corners *c, const GlottisTracks *t, double rate, Random *random, float *out,
                  size_t n)
{
    memset(out, 0, n * sizeof *out);
    const double per_hz = sqrt(rate / 48000.0);
    double start = 0;
    while (start < (double)n) {
        const double jitter = 1 + g->wobble * JITTER * (random_unit(random) + random_unit(random) - 1);
        const double strength = 1 + g->wobble * SHIMMER * (2 * random_unit(random) - 1);
        const double period = rate / track_at(t->hz, t, start) * jitter;
        const double shut = start + g->open * period;
        const double loudness = track_at(t->loudness, t, shut);
        if (loudness > 1e-4)
            draw_pulse(c, start, period, g->open, loudness * strength, out, n);
        add_breath(t, start, start + period, shut, loudness * g->breathiness, per_hz, random, out, n);
        start += period;
    }
}
