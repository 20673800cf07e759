/* A cross-fade along a raised cosine: the weight's slope is 0 at both ends, where it is exactly 0 or 1. */
#ifndef LINCTUS_FADE_H
#define LINCTUS_FADE_H

#include <stdbool.h>

typedef struct {
    double at, step; /* position along the curve, 0..1; how far it moves in one sample */
    double target;   /* position it moves to: 0 or 1 */
    bool holds;      /* a target was set since init or restart */
} Fade;

/* seconds: how long a fade from 0 to 1 takes; at least one sample. The weight starts at 0; the first fade_to() jumps.
 */
void fade_init(Fade *f, double rate, double seconds);

/* Makes the next fade_to() jump to its target. */
void fade_restart(Fade *f);

/* Starts a fade towards 1 (on) or 0. It may be turned back half-way. */
void fade_to(Fade *f, bool on);

/* True when the weight is exactly `on` and stays there. */
static inline bool fade_rests_at(const Fade *f, bool on)
{
    return f->at == f->target && f->at == (on ? 1.0 : 0.0);
}

/* True when the fade's target is `on`, whether or not it has arrived. */
static inline bool fade_goes_to(const Fade *f, bool on)
{
    return f->target == (on ? 1.0 : 0.0);
}

/* Returns the weight of this sample, 0..1, and moves on by one sample. */
double fade_step(Fade *f);

#endif
