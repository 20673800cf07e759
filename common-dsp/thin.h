/* Thins a signal out: keeps one sample of every `factor`, after a linear-phase low-pass. For listening. decimate.h does
 * the same with recursive filters, which wait for their own results; here each kept sample is one sum of products
 * (rows.h).
 *
 * The low-pass is a sinc under a Hamming window, THIN_TAPS times the factor long: 6 dB down at the corner, flat within
 * 0.05 dB up to 0.1 of the slower rate below the corner, over 49 dB down from 0.11 of the slower rate above it. Sound
 * comes out half the window's length late. */
#ifndef LINCTUS_THIN_H
#define LINCTUS_THIN_H

#include "dsp.h"

enum { THIN_TAPS = 16 }; /* taps of the low-pass for each 1 of the factor */

typedef struct {
    uint32_t factor, taps, phase; /* phase: samples since the last one kept */
    uint32_t at;                  /* in the line, where the past that the next call needs begins */
    float *tap, *line;            /* line: the past, then the samples of a call; moved back every second cell */
} Thin;

/* Allocates. factor: 1 or more; corner and rate (the faster one): Hz. false: no memory. */
bool thin_init(Thin *t, uint32_t factor, double corner, double rate);

/* The same with a filter of the caller's own. tap: oldest sample first; taps: how many, a multiple of ROWS_STEP
 * (rows.h). */
bool thin_init_with(Thin *t, uint32_t factor, const double *tap, uint32_t taps);

void thin_done(Thin *t); /* safe on a zeroed struct */
void thin_reset(Thin *t);

/* Takes n samples, at most DSP_CELL, and returns how many it kept in `out`. If that is odd, `out` has room for one
 * more. Samples under 1e-20 count as silence. */
uint32_t thin_run(Thin *t, const float *in, uint32_t n, float *out);

#endif
