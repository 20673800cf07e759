/* What a recording holds beside the voice. Each adds to `out`; levels are linear RMS or peak. */
#ifndef LINCTUS_SINGER_NOISES_H
#define LINCTUS_SINGER_NOISES_H

#include "random.h"

#include <stddef.h>

typedef struct {
    float *out;
    size_t n;
    double rate;
} Recording;

/* Broad noise with more below 400 Hz, as a quiet room with a fan and a preamplifier has. RMS up to 20 kHz. */
double add_hiss(Recording r, double rms, Random random);

/* Hum whose frequency swings by `drift` (share of it) to each side in 23 s. */
void add_hum(Recording r, double hz, double drift, unsigned harmonics, double rms, Random random);
double hum_frequency(double hz, double drift, double seconds);

/* An inhaled breath between two times; its noise peaks near 1.65 kHz. */
void add_breath(Recording r, double start, double end, double rms, Random random);

/* A mouth click of a few ms. */
void add_click(Recording r, double at, double length, double peak, Random random);

/* A burst of air, nearly all of it below 200 Hz. */
void add_pop(Recording r, double at, double peak, Random random);
#define POP_LENGTH 0.15 /* s */

#endif
