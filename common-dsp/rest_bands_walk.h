/* What rest_bands.c does with every sample, made twice from one source (rest_bands_walk_kernel.h): for vectors that
 * hold the four bands of one channel, and of two (wide.h). Both give the same bits, and so does plain C:
 * tests/unit/test_rests_down.c. */
#ifndef LINCTUS_REST_BANDS_WALK_H
#define LINCTUS_REST_BANDS_WALK_H

#include "rest_bands.h"
#include "wide.h"

/* n samples from number `at` on, 1 or more, of as many channels as r has. Returns the last sample of each band, the
 * channels added up. */
typedef Four RestBandsWalk(RestBands *r, const float *const *in, uint32_t at, uint32_t n);

RestBandsWalk rest_bands_walk_four;

/* Where WIDE_AVX2; to be called where wide_avx2(), for two channels. */
RestBandsWalk rest_bands_walk_avx2;

#endif
