/* The filters of sibilance.c, compiled from one source (sibilance_ears_kernel.h) for vectors that hold four filters of
 * one channel, and four of each of two (wide.h). All give the same bits, and so does plain C:
 * tests/unit/test_sibilance.c. */
#ifndef LINCTUS_SIBILANCE_EARS_H
#define LINCTUS_SIBILANCE_EARS_H

#include "sibilance.h"
#include "wide.h"

/* Takes in n samples of each of s->channels. */
typedef void SibilanceEars(Sibilance *s, const float *const *in, uint32_t n);

SibilanceEars sibilance_ears_four;

/* Exist where WIDE_AVX2 is 1; call them only where wide_avx2() is true: for two channels, and for one. */
SibilanceEars sibilance_ears_avx2, sibilance_ears_one_avx2;

#endif
