/* Looks for damage (dsp.h) in runs of samples. */
#ifndef LINCTUS_DAMAGE_H
#define LINCTUS_DAMAGE_H

#include "dsp.h"

/* Whether none of n samples is damaged: the same as dsp_undamaged() leaving each of them as it is. */
bool damage_is_none(const float *x, uint32_t n);

/* out = in with dsp_undamaged() on every sample. out may be in. */
void damage_remove(const float *in, float *out, uint32_t n);

/* out = in, with 0 for what is not finite. out may be in. */
void damage_keep_finite(const float *in, float *out, uint32_t n);

#endif
