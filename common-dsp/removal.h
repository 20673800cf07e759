/* For a processor that subtracts something from its delayed input: the output, and figures of what was removed. */
#ifndef LINCTUS_REMOVAL_H
#define LINCTUS_REMOVAL_H

#include "dsp.h"
#include "fade.h"
#include "smooth.h"

typedef struct {
    double in, removed;           /* energy since the struct was zeroed */
    double in_lately, out_lately; /* recent energy of input and output, forgotten exponentially */
} Removal;

/* Takes in n samples of a channel: the input, and what is removed from it. */
void removal_hear(Removal *r, const float *in, const float *removed, uint32_t n);

/* keep: factor on the recent energies, 0..1. */
void removal_forget(Removal *r, double keep);

/* Recent level of what is left, relative to the input: dB, 0 or less. */
double removal_down(const Removal *r);

/* Per cent of the input's energy that was removed, 0..100. */
double removal_share(const Removal *r);

/* out[t] = gain (in[t] - removed[t]), n samples. */
void removal_leave(const float *in, const float *removed, float gain, float *out, uint32_t n);

/* Puts out n samples of each channel that lie within one cell: what is left of the input, times `gain` (NULL: 1); as
 * far as `hear` has faded in, what is removed. out may be the input. */
void removal_put_out(Fade *hear, Smooth *gain, float late[][DSP_CELL], float removed[][DSP_CELL], float *const *out,
                     uint32_t channels, uint32_t n);

#endif
