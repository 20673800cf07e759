/* What a processor that subtracts something from its delayed input has removed: the output, and what is told of it. */
#ifndef LINCTUS_REMOVAL_H
#define LINCTUS_REMOVAL_H

#include <stdint.h>

typedef struct {
    double in, removed;           /* energy since it was zeroed */
    double in_lately, out_lately; /* the same lately, forgotten exponentially */
} Removal;

/* n samples of a channel: what came in, and what of it is removed. */
void removal_hear(Removal *r, const float *in, const float *removed, uint32_t n);

/* keep: factor on what was heard lately, 0..1. */
void removal_forget(Removal *r, double keep);

/* Level of what is left against the input lately, dB, 0 or less. */
double removal_down(const Removal *r);

/* Per cent of the energy that was removed, 0..100. */
double removal_share(const Removal *r);

/* out[t] = gain (in[t] - removed[t]), n samples. */
void removal_leave(const float *in, const float *removed, float gain, float *out, uint32_t n);

#endif
