/* Inside hum_follower.h: what its parts share. */
#ifndef LINCTUS_HUM_FOLLOWER_INSIDE_H
#define LINCTUS_HUM_FOLLOWER_INSIDE_H

#include "hum_follower.h"

/* Set by trial, as those of hum_follower.c. */
#define FOLLOWER_AMPLITUDE_MOST 1.4 /* times the amplitude of all harmonics: none is stronger */
#define FOLLOWER_PROOFS         2   /* rests that prove a hum */

/* Hz, of a family (hum_follower.h). */
static inline double follower_nominal(uint32_t family)
{
    return family ? 60.0 : 50.0;
}

static inline double follower_block_seconds(const HumFollower *f)
{
    return f->cells * DSP_CELL / f->rate;
}

/* Of harmonic k, as it is followed: its amplitude squared. */
static inline double follower_power(const FollowerChannel *c, uint32_t k)
{
    return (double)c->hum.re[k] * (double)c->hum.re[k] + (double)c->hum.im[k] * (double)c->hum.im[k];
}

#endif
