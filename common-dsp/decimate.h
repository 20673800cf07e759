/* Decimation by a whole factor, after a sixth-order Butterworth low-pass. For analysis, not for what is put out: how
 * much aliasing is left depends on the caller's corner (36 dB per octave above it). */
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

/* factor: 1 or more. corner: Hz, -3 dB. rate: Hz, before decimation. */
void decimate_init(Decimator *d, uint32_t factor, double corner, double rate);

/* As if silence had gone before. */
void decimate_reset(Decimator *d);

/* Takes a sample. true, with every factor-th one: *out is the next sample of the slower signal. */
bool decimate_step(Decimator *d, double x, double *out);

/* The same for n samples (0..DSP_CELL), which are filtered in place. Returns how many samples of the slower signal were
 * written to `out`. Unlike decimate_step() it leaves denormals to decimate_hush(), to be called at grid points. */
uint32_t decimate_run(Decimator *d, double *x, uint32_t n, double *out);
void decimate_hush(Decimator *d);

/* Factor that the low-pass has on the power at hz, 0..1, by the analog prototype. */
double decimate_power(const Decimator *d, double hz);

#endif
