/* Thins a signal out: keeps every so-many-th sample of it, after a low-pass of linear phase. For listening. decimate.h
 * does it with recursive filters, which wait for their own results; here each sample that is kept is one sum of
 * products (rows.h).
 *
 * The low-pass is a sinc under a Hamming window of THIN_TAPS times the factor: 6 dB down at the corner, within 0.05 dB
 * up to a tenth of the slower rate below it, over 49 dB down from 0.11 of the slower rate above it. A sound comes half
 * as many samples later. */
#ifndef LINCTUS_THIN_H
#define LINCTUS_THIN_H

#include "dsp.h"

enum { THIN_TAPS = 16 }; /* for each sample that is thinned out */

typedef struct {
    uint32_t factor, taps, phase; /* phase: samples since one was kept */
    uint32_t at;                  /* in the line: of the first sample that is looked at */
    float *tap, *line;            /* line: what came before, then the samples of a call; moved back every second cell */
} Thin;

/* Allocates. factor: 1 or more; corner: Hz. false: no memory. */
bool thin_init(Thin *t, uint32_t factor, double corner, double rate);

/* A filter of its own in place of that low-pass: taps, oldest sample first; so many, a multiple of ROWS_STEP (rows.h).
 */
bool thin_init_with(Thin *t, uint32_t factor, const double *tap, uint32_t taps);

void thin_done(Thin *t); /* safe on a zeroed struct */
void thin_reset(Thin *t);

/* n samples, at most a cell; returns how many were kept, in `out`. What is under 1e-20 counts as silence. */
uint32_t thin_run(Thin *t, const float *in, uint32_t n, float out[DSP_CELL]);

#endif
