/* Keeps every so-many-th sample of a signal, after a sixth-order Butterworth low-pass. For listening, not for sound:
 * how much folds back is the caller's choice of the corner (36 dB per octave above it). */
#ifndef LINCTUS_DECIMATE_H
#define LINCTUS_DECIMATE_H

#include "lanes.h"

enum { DECIMATE_SECTIONS = 3 };

typedef struct {
    uint32_t factor, phase;
    Svf filter[DECIMATE_SECTIONS];
    SvfState state[DECIMATE_SECTIONS];
    double corner;
} Decimator;

/* factor: 1 or more. corner: Hz, -3 dB. */
void decimate_init(Decimator *d, uint32_t factor, double corner, double rate);

/* As if silence had gone before. */
void decimate_reset(Decimator *d);

/* true with every factor-th sample: *out is then a sample of the slower signal. */
bool decimate_step(Decimator *d, double x, double *out);

/* The same for n samples (0..DSP_CELL), which are filtered in place; returns how many of the slower signal come out.
 * What has died away is left to decimate_hush(), at grid points. */
uint32_t decimate_run(Decimator *d, double *x, uint32_t n, double *out);
void decimate_hush(Decimator *d);

/* What the low-pass does to the power at hz, as a factor, 0..1: the analog prototype's. */
double decimate_power(const Decimator *d, double hz);

#endif
