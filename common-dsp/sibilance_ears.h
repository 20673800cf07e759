/* What sibilance.c does with every sample, made from one source (sibilance_ears_kernel.h): for vectors that hold
 * four filters of one channel, and of two (wide.h). Both give the same bits, and so does plain C:
 * tests/unit/test_sibilance.c. */
#ifndef LINCTUS_SIBILANCE_EARS_H
#define LINCTUS_SIBILANCE_EARS_H

#include "sibilance.h"
#include "wide.h"

/* n samples of as many channels as s has. */
typedef void SibilanceEars(Sibilance *s, const float *const *in, uint32_t n);

SibilanceEars sibilance_ears_four;

/* Where WIDE_AVX2; to be called where wide_avx2(): for two channels, and for one. */
SibilanceEars sibilance_ears_avx2, sibilance_ears_one_avx2;

#endif
