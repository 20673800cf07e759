/* Parameter smoothing: two equal one-poles in series (critically damped). Neither the value nor its slope ever jumps: a
 * kink in a gain's slope is heard as a tick, a smooth bend is not.
 *
 * Step it once a sample, or once a cell with steps_per_second = rate / DSP_CELL. It lands exactly on its target, after
 * about 20 tau, so that a gain at rest can be bit-transparent. */
#ifndef LINCTUS_SMOOTH_H
#define LINCTUS_SMOOTH_H

#include <math.h>
#include <stdbool.h>
#include <stdint.h>

typedef struct {
    double target, first, value;
    double keep; /* one-pole coefficient, a step */
    bool holds;  /* a value was given since the last smooth_init or smooth_restart */
} Smooth;

/* steps_per_second: above 0. tau: s, time constant of each of the two poles; 0: no smoothing. */
void smooth_init(Smooth *s, double steps_per_second, double tau);

/* The next smooth_to() jumps to its target. */
void smooth_restart(Smooth *s);

/* Jumps to its target; the next smooth_to() jumps too. */
void smooth_restart_at_target(Smooth *s);

/* Sets out for target; the first call after init or restart jumps there. */
void smooth_to(Smooth *s, double target);

/* Jumps to value and rests there. */
void smooth_jump(Smooth *s, double value);

/* true: smooth_step() would keep returning the target, to the bit. */
static inline bool smooth_settled(const Smooth *s)
{
    return s->value == s->target && s->first == s->target;
}

/* One step on; returns the value. It reaches the target exactly, once within 10^-8 of it. */
static inline double smooth_step(Smooth *s)
{
    if (smooth_settled(s))
        return s->value;
    s->first = s->target + s->keep * (s->first - s->target);
    s->value = s->first + s->keep * (s->value - s->first);
    const double near = 1e-8 * (1.0 + fabs(s->target));
    if (fabs(s->first - s->target) < near && fabs(s->value - s->target) < near)
        s->first = s->value = s->target;
    return s->value;
}

/* The next n values, those that smooth_step() would return, to the bit. */
void smooth_run(Smooth *s, double *value, uint32_t n);

/* The same for two at a time, so that neither waits for the other. */
void smooth_run_both(Smooth *a, double *value_a, Smooth *b, double *value_b, uint32_t n);

#endif
