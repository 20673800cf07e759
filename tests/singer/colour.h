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

/* At most 0.48 of the rate is reached: a higher bell or band is left out (gain 1) or held there. */
Colour colour_bell(double hz, double db, double q, double rate);
Colour colour_band(double hz, double q, double rate); /* gain 1 at its centre */
Colour colour_fall(double hz, double rate);           /* -6 dB per octave above hz */

void colour_run(Colour *c, float *x, size_t n);

/* A band of noise, RMS 1 where the rate can hold it (less where it can not), `order` band-passes deep. */
enum { NOISE_ORDER = 4 };
typedef struct {
    Colour band[NOISE_ORDER];
    int order;
    double scale;
    Random random;
} NoiseBand;

NoiseBand noise_band(double hz, double q, int order, double rate, Random random);
float noise_band_next(NoiseBand *n);

#endif
