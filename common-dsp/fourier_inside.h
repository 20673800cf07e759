/* What fourier.c calls of fourier_kernel.h. */
#ifndef LINCTUS_FOURIER_INSIDE_H
#define LINCTUS_FOURIER_INSIDE_H

#include "fourier.h"
#include "wide.h"

typedef void FourierStep(const Fourier *f, uint32_t step, float *re, float *im);
typedef void FourierJoin(const Fourier *f, const float *re, const float *im, float *to_re, float *to_im);

FourierStep fourier_pass_four, fourier_split_four, fourier_merge_four;
FourierJoin fourier_join_four;

/* For vectors of eight; only where wide_avx2() is true, and where a lane's length is a multiple of eight. */
FourierStep fourier_pass_avx2, fourier_split_avx2, fourier_merge_avx2;
FourierJoin fourier_join_avx2;

#endif
