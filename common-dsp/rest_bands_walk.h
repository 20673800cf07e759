/* The filters of rest_bands.c, compiled twice from one source (rest_bands_walk_kernel.h): for vectors that hold the
 * four bands of one channel, and of two (wide.h). Both give the same bits, and so does plain C:
 * tests/unit/test_rests_down.c. */
#ifndef LINCTUS_REST_BANDS_WALK_H
#define LINCTUS_REST_BANDS_WALK_H

#include "rest_bands.h"
#include "wide.h"

/* Filters n samples, 1 or more, of all r->channels from in[c][at] on. Returns each band's last output sample, summed
 * over the channels. */
typedef Four RestBandsWalk(RestBands *r, const float *const *in, uint32_t at, uint32_t n);

RestBandsWalk rest_bands_walk_four;

/* Exists where WIDE_AVX2 is 1; call it only where wide_avx2() is true, for two channels. */
RestBandsWalk rest_bands_walk_avx2;

#endif
