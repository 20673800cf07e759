/* Small filters that colour a voice or a noise. The singer has filters of its own, so that no test measures a
 * processor with the processor's own code. Bells and band-passes as in the W3C "Audio EQ Cookbook". */
#ifndef LINCTUS_SINGER_COLOUR_H
#define LINCTUS_SINGER_COLOUR_H

#include "random.h"

#include <stddef.h>

typedef struct {
    double b[3], a[2];
    double s[2];
} Colour;

/* A bell or fall at 0.48 of the rate or above is left out (gain 1); a band or rise has to lie below. */
Colour colour_bell(double hz, double db, double q, double rate);
Colour colour_band(double hz, double q, double rate); /* gain 1 at its centre */
Colour colour_fall(double hz, double rate);           /* -6 dB per octave above hz */
Colour colour_rise(double hz, double q, double rate); /* 12 dB per octave below hz */

void colour_run(Colour *c, float *x, size_t n);

/* A band of noise, RMS 1 where the rate can hold it (less where it can not): even skirts of 6 dB per octave, or as
 * friction at the teeth has it, 30 below the peak and 6 above. */
typedef enum { SKIRTS_EVEN, SKIRTS_SIBILANT } Skirts;
enum { NOISE_STAGES = 3 };
typedef struct {
    Colour stage[NOISE_STAGES];
    int stages;
    double scale;
    Random random;
} NoiseBand;

NoiseBand noise_band(double hz, double q, Skirts skirts, double rate, Random random);
float noise_band_next(NoiseBand *n);

#endif
