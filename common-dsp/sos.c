#include "sos.h"

#include <complex.h>
#include <math.h>
#include <string.h>

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
 * as input - k band - low, which makes the identity exact. */
Svf svf_from_biquad(const Biquad *b)
{
    const double at_nyquist = 1.0 - b->a1 + b->a2, at_dc = 1.0 + b->a1 + b->a2;
    const double g = sqrt(at_dc / at_nyquist);
    const double k = 2.0 * (1.0 - b->a2) / (at_nyquist * g);
    const double high = (b->b0 - b->b1 + b->b2) / at_nyquist;
    const double band = 2.0 * (b->b0 - b->b2) / (at_nyquist * g);
    const double low = (b->b0 + b->b1 + b->b2) / at_dc;
    return (Svf){.g = g, .k = k, .m0 = high, .m1 = band - high * k, .m2 = low - high};
}

void sos_init(Sos *s, uint32_t sections, uint32_t channels)
{
    memset(s, 0, sizeof *s);
    s->sections = sections;
    s->channels = channels;
    for (uint32_t i = 0; i < SOS_SECTIONS; ++i)
        sos_jump(s, i, &biquad_identity);
}

void sos_reset(Sos *s)
{
    memset(s->state, 0, sizeof s->state);
    for (uint32_t i = 0; i < s->sections; ++i) {
        s->now[i] = s->goal[i];
        s->glide[i] = 0;
    }
}

void sos_jump(Sos *s, uint32_t section, const Biquad *b)
{
    s->now[section] = s->goal[section] = svf_from_biquad(b);
    s->glide[section] = 0;
}

static bool is_same(const Svf *a, const Svf *b)
{
    return a->g == b->g && a->k == b->k && a->m0 == b->m0 && a->m1 == b->m1 && a->m2 == b->m2;
}

void sos_glide(Sos *s, uint32_t section, const Biquad *b)
{
    const Svf *now = &s->now[section];
    const Svf goal = svf_from_biquad(b);
    s->goal[section] = goal;
    if (is_same(now, &goal)) {
        s->glide[section] = 0;
        return;
    }
    s->step[section] = (Svf){.g = (goal.g - now->g) / DSP_CELL,
                             .k = (goal.k - now->k) / DSP_CELL,
                             .m0 = (goal.m0 - now->m0) / DSP_CELL,
                             .m1 = (goal.m1 - now->m1) / DSP_CELL,
                             .m2 = (goal.m2 - now->m2) / DSP_CELL};
    s->glide[section] = DSP_CELL;
}

void sos_hush(Sos *s)
{
    for (uint32_t i = 0; i < s->sections; ++i)
        for (uint32_t c = 0; c < s->channels; ++c)
            svf_hush(&s->state[i][c]);
}

static void glide_on(Sos *s, uint32_t section)
{
    Svf *now = &s->now[section];
    const Svf *step = &s->step[section];
    if (--s->glide[section] == 0) {
        *now = s->goal[section];
        return;
    }
    now->g += step->g;
    now->k += step->k;
    now->m0 += step->m0;
    now->m1 += step->m1;
    now->m2 += step->m2;
}

static bool is_flat(const Svf *c)
{
    return c->m0 == 1.0 && c->m1 == 0.0 && c->m2 == 0.0;
}

void sos_frame(Sos *s, double *x)
{
    for (uint32_t i = 0; i < s->sections; ++i) {
        if (s->glide[i])
            glide_on(s, i);
        const Svf now = s->now[i];
        const bool flat = is_flat(&now); /* x + 0 would turn -0 into 0; the states run on, to be ready */
        for (uint32_t c = 0; c < s->channels; ++c) {
            const double y = svf_step(&now, &s->state[i][c], x[c]);
            x[c] = flat ? x[c] : y;
        }
    }
}

void sos_process(Sos *s, const float *const *in, float *const *out, uint32_t n)
{
    for (uint32_t t = 0; t < n; ++t) {
        double x[DSP_CHANNELS];
        for (uint32_t c = 0; c < s->channels; ++c)
            x[c] = in[c][t];
        sos_frame(s, x);
        for (uint32_t c = 0; c < s->channels; ++c)
            out[c][t] = (float)x[c];
    }
}
