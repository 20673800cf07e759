/* What the fixed curve (fixed_curve.h) of an untouched recording looks like, before any resonance is looked for in it.
 * The equations stand in resonance.md ("Recordings").
 *
 * A recorded voice's curve wanders by about 2 dB over a third of an octave, around a mean that recordings share: rooms,
 * microphones, and what the vowels of the model do not explain. A voice whose pieces the model explains nearly to the
 * decibel is one as books describe it: its curve wanders less, around another mean. Between the two, what is expected
 * lies in between as well. */
#ifndef LINCTUS_RECORDINGS_H
#define LINCTUS_RECORDINGS_H

#include "fixed_curve.h"

typedef struct {
    double recorded; /* 0: a voice as in books; 1: a recorded one */
} Recordings;

/* misfit: dB RMS, what the model of vowels leaves of the voice's levels; 2.3 or less gives 0, 3.1 or more gives 1. */
Recordings recordings_like(double misfit);

/* Expected value of the curve in a bin (0..CURVE_BINS - 1), dB; its level, tilt and bend are free. */
double recordings_mean(const Recordings *r, uint32_t bin);

/* Covariance, dB squared, of how far two bins lie from those means where there is no resonance. */
double recordings_covariance(const Recordings *r, uint32_t bin, uint32_t other);

/* Noise, dB squared, to be added to a bin's own variance. weight: of the harmonics that fell in it, more than 0. */
double recordings_noise(const Recordings *r, uint32_t bin, double weight);

#endif
