/* What the fixed curves (fixed_curve.h) of untouched recordings look like: what is expected of one before a resonance
 * is looked for. The equations stand in resonance.md ("Recordings").
 *
 * A recorded voice's curve wanders by about 2 dB over a third of an octave, around a mean that recordings share: rooms,
 * microphones, and what the vowels of the model do not explain. A voice whose pieces the model explains nearly to the
 * decibel is one as books describe it: its curve wanders less, around another mean. In between, so is what is
 * expected. */
#ifndef LINCTUS_RECORDINGS_H
#define LINCTUS_RECORDINGS_H

#include "fixed_curve.h"

typedef struct {
    double recorded; /* 0: a voice as in books; 1: a recorded one */
} Recordings;

/* By how well the model describes the voice, dB RMS. */
Recordings recordings_like(double misfit);

/* What the curve is expected to be in a bin, dB, but for level, tilt and bend, which are free. */
double recordings_mean(const Recordings *r, uint32_t bin);

/* The covariance, dB squared, of what two bins are off that by, without any resonance. */
double recordings_covariance(const Recordings *r, uint32_t bin, uint32_t other);

/* What is added to a bin's own, where so many harmonics fell in (more than 0): noise. */
double recordings_noise(const Recordings *r, uint32_t bin, double weight);

#endif
