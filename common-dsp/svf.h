/* A second-order section: as it is designed (a biquad) and as it runs (a state-variable filter).
 *
 * It runs as the trapezoidal state-variable filter with the loop of its two integrators solved, which halves the
 * recursion. The states are those of the integrators. Without input no step, nor a mixture of two, raises the sum of
 * their squares: so the section stays stable, and its states meaningful, while coefficients move. The mapping from the
 * biquad is exact, and so is the frequency response. Source of the structure: V. Zavalishin, "The Art of VA Filter
 * Design"; J. Laroche, "On the stability of time-varying recursive filters", JAES 55(6), 2007. From memory: neither
 * text was opened. */
#ifndef LINCTUS_SVF_H
#define LINCTUS_SVF_H

#include "dsp.h"

/* H(z) = (b0 + b1/z + b2/z^2) / (1 + a1/z + a2/z^2), stable. */
typedef struct {
    double b0, b1, b2, a1, a2;
} Biquad;

extern const Biquad biquad_identity; /* H = 1: returns its input */

/* |H| as a gain factor at hz, 0..rate / 2. */
double biquad_gain(const Biquad *b, double hz, double rate);

/* v = x - s2; out = direct x + (by_first s1 + by_second s2); s1' = keep s1 + lift v; s2' = (s2 + lift s1) + rise v */
typedef struct {
    double direct, by_first, by_second, keep, lift, rise;
} Svf;

/* The same section in this form; exact within rounding. */
Svf svf_from_biquad(const Biquad *b);

/* A section with the same poles that returns its input. */
Svf svf_flat(const Svf *c);

/* The mixture at `way`, 0 (from) to 1 (goal): exact at 0, within rounding at 1. */
Svf svf_between(const Svf *from, const Svf *goal, double way);

/* true: it returns its input, but for -0, which comes out as 0. So do the biquads with b = 1, 0, 0 and a = 0, 0, or
 * with b = a. */
static inline bool svf_is_flat(const Svf *c)
{
    return c->direct == 1.0 && c->by_first == 0.0 && c->by_second == 0.0;
}

/* States of one section, one channel. Zero to reset. */
typedef struct {
    double s1, s2;
} SvfState;

/* One sample through one section; returns the output. lanes.h does the same with several sections at a time. */
static inline double svf_step(const Svf *c, SvfState *s, double x)
{
    const double v = x - s->s2;
    const double held = c->by_first * s->s1 + c->by_second * s->s2;
    const double rising = s->s2 + c->lift * s->s1;
    s->s1 = c->keep * s->s1 + c->lift * v;
    s->s2 = rising + c->rise * v;
    return c->direct * x + held;
}

/* Sets states that have died away (dsp_is_hushed) to 0. Writes nothing otherwise, so that code which reads both states
 * at once need not wait. */
static inline void svf_hush(SvfState *s)
{
    if (dsp_is_hushed(s->s1))
        s->s1 = 0.0;
    if (dsp_is_hushed(s->s2))
        s->s2 = 0.0;
}

#endif
