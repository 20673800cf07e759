/* Cascades of second-order sections that can be modulated without clicks.
 *
 * A section is designed as a biquad (design.h) and run as a trapezoidal state-variable filter, whose states are the
 * integrators' own outputs: they stay meaningful, and the section stable, while coefficients move. Mapping both ways is
 * exact, so the frequency response is the biquad's. A section that is the identity (b = 1, 0, 0 over a = 0, 0, or b =
 * a) returns its input to the bit. Source of the structure: V. Zavalishin, "The Art of VA Filter Design"; J. Laroche,
 * "On the stability of time-varying recursive filters", JAES 55(6), 2007. From memory: neither text was opened. */
#ifndef LINCTUS_SOS_H
#define LINCTUS_SOS_H

#include "dsp.h"

/* H(z) = (b0 + b1/z + b2/z^2) / (1 + a1/z + a2/z^2), stable. */
typedef struct {
    double b0, b1, b2, a1, a2;
} Biquad;

extern const Biquad biquad_identity;

/* |H| at frequency hz, as a gain. */
double biquad_gain(const Biquad *b, double hz, double rate);

/* The same section's coefficients in state-variable form. */
typedef struct {
    double g, k, m0, m1, m2;
} Svf;

Svf svf_from_biquad(const Biquad *b);

/* States of one section, one channel. Zero to reset. */
typedef struct {
    double s1, s2;
} SvfState;

/* One sample through one section whose coefficients hold still. */
static inline double svf_step(const Svf *c, SvfState *s, double x)
{
    const double a1 = 1.0 / (1.0 + c->g * (c->g + c->k));
    const double v3 = x - s->s2;
    const double band = a1 * (s->s1 + c->g * v3);
    const double low = s->s2 + c->g * band;
    s->s1 = 2.0 * band - s->s1;
    s->s2 = 2.0 * low - s->s2;
    return c->m0 * x + (c->m1 * band + c->m2 * low);
}

static inline void svf_hush(SvfState *s)
{
    s->s1 = dsp_hush(s->s1);
    s->s2 = dsp_hush(s->s2);
}

enum { SOS_SECTIONS = 12 };

/* A cascade over up to DSP_CHANNELS channels. */
typedef struct {
    uint32_t sections, channels;
    Svf now[SOS_SECTIONS];
    Svf step[SOS_SECTIONS]; /* what a glide adds each sample */
    Svf goal[SOS_SECTIONS];
    uint32_t glide[SOS_SECTIONS]; /* samples left of the glide */
    SvfState state[SOS_SECTIONS][DSP_CHANNELS];
} Sos;

/* All sections start as the identity. sections <= SOS_SECTIONS. */
void sos_init(Sos *s, uint32_t sections, uint32_t channels);

/* Clears the states; a glide under way ends at its goal. */
void sos_reset(Sos *s);

/* The section is this from the next sample on (for the first setting, or a section that is faded out). */
void sos_jump(Sos *s, uint32_t section, const Biquad *b);

/* The section becomes this over the next DSP_CELL samples, in equal steps of its state-variable coefficients. Call it
 * at grid points, with a design whose parameters are smoothed. */
void sos_glide(Sos *s, uint32_t section, const Biquad *b);

/* Once a cell: silences what has died away. */
void sos_hush(Sos *s);

/* One sample of every channel, in place. */
void sos_frame(Sos *s, double *x);

/* out may be in. */
void sos_process(Sos *s, const float *const *in, float *const *out, uint32_t n);

#endif
