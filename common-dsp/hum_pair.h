/* Complex numbers of a harmonic each: its cos and sin parts. */
#ifndef LINCTUS_HUM_PAIR_H
#define LINCTUS_HUM_PAIR_H

#include "hum_follower.h"

#include <math.h>

typedef struct {
    double re, im;
} Pair;

static inline Pair pair_at(const FollowerRows *r, uint32_t k)
{
    return (Pair){(double)r->re[k], (double)r->im[k]};
}

static inline void pair_put(FollowerRows *r, uint32_t k, Pair x)
{
    r->re[k] = (float)x.re;
    r->im[k] = (float)x.im;
}

static inline Pair pair_times(Pair a, Pair b)
{
    return (Pair){a.re * b.re - a.im * b.im, a.re * b.im + a.im * b.re};
}

/* a * conj(b) */
static inline Pair pair_against(Pair a, Pair b)
{
    return (Pair){a.re * b.re + a.im * b.im, a.im * b.re - a.re * b.im};
}

static inline double pair_power(Pair a)
{
    return a.re * a.re + a.im * a.im;
}

static inline Pair pair_turn(double angle)
{
    return (Pair){cos(angle), sin(angle)};
}

/* Where the sum of row[k] turned back by (k + 1) * angle is greatest, of the angles 0, +-most / steps ... +-most; and
 * how great it is there. */
double pair_best_turn(const Pair *row, uint32_t harmonics, double most, int steps, double *greatest);

/* Every harmonic of an angle, rad: cos and sin. */
void pair_harmonics(double angle, FollowerRows *to);

#endif
