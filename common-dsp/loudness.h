/* Loudness by ITU-R BS.1770-4/-5: K weighting, 400 ms blocks with 75 % overlap, gates at -70 LUFS and 10 LU below the
 * mean of what is left. Mono and stereo, channel weight 1. */
#ifndef LINCTUS_LOUDNESS_H
#define LINCTUS_LOUDNESS_H

#include "sos.h"

/* K weighting alone: for processors that compare weighted energy before and after. */
typedef struct {
    Svf stage[2];
    SvfState state[2][DSP_CHANNELS];
} KWeight;

void kweight_init(KWeight *k, double rate);
void kweight_reset(KWeight *k);
void kweight_hush(KWeight *k); /* once a cell */

static inline double kweight_step(KWeight *k, uint32_t channel, double x)
{
    return svf_step(&k->stage[1], &k->state[1][channel], svf_step(&k->stage[0], &k->state[0][channel], x));
}

#endif
