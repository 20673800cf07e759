/* The vocal tract: an all-pole filter given by formants and bandwidths, run as the sum of its partial fractions.
 * Each fraction is one complex pole, so moving formants never make a click, and poles above what the rate can hold
 * are left out without changing the rest. Gain 1 at DC. */
#ifndef LINCTUS_SINGER_TRACT_H
#define LINCTUS_SINGER_TRACT_H

#include <stddef.h>

enum { TRACT_POLES = 12 };

typedef struct {
    double rate;
    float turn[2][TRACT_POLES];   /* the pole: real, imaginary */
    float weight[2][TRACT_POLES]; /* its residue */
    float state[2][TRACT_POLES];
} Tract;

void tract_init(Tract *t, double rate);

/* TRACT_POLES formants and bandwidths in Hz, formants rising, apart by more than 0. */
void tract_shape(Tract *t, const double hz[TRACT_POLES], const double bandwidth[TRACT_POLES]);

/* In place. */
void tract_run(Tract *t, float *x, size_t n);

#endif
