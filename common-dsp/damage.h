/* Finds and removes damage (dsp.h) in runs of samples. */
#ifndef LINCTUS_DAMAGE_H
#define LINCTUS_DAMAGE_H

#include "dsp.h"

/* true: none of n samples is damaged, so dsp_undamaged() would leave each of them as it is. */
bool damage_is_none(const float *x, uint32_t n);

/* out = in with dsp_undamaged() on every sample. out may be in. */
void damage_remove(const float *in, float *out, uint32_t n);

/* out = in, with 0 for NaN and infinities. out may be in. */
void damage_keep_finite(const float *in, float *out, uint32_t n);

#endif
