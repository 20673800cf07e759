/* A cross-fade along a raised cosine: the weight's slope is 0 at both ends, where it is exactly 0 or 1. */
#ifndef LINCTUS_FADE_H
#define LINCTUS_FADE_H

#include <stdbool.h>

typedef struct {
    double at, step; /* 0..1, and the way of one sample */
    double target;   /* 0 or 1 */
    bool holds;
} Fade;

/* seconds: of the whole way from 0 to 1; at least a sample. Begins at 0, and the first fade_to() holds at once. */
void fade_init(Fade *f, double rate, double seconds);

/* The next fade_to() holds at once. */
void fade_restart(Fade *f);

/* Fade towards 1 (true) or 0. Turning back half-way is fine. */
void fade_to(Fade *f, bool on);

/* True when the weight is exactly `on` and stays there. */
static inline bool fade_rests_at(const Fade *f, bool on)
{
    return f->at == f->target && f->at == (on ? 1.0 : 0.0);
}

/* Where it goes, or is. */
static inline bool fade_goes_to(const Fade *f, bool on)
{
    return f->target == (on ? 1.0 : 0.0);
}

/* The weight of this sample, 0..1; moves on by one. */
double fade_step(Fade *f);

#endif
