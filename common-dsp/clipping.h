/* Counts clipped samples: those that belong to a run of two or more equal samples at 0.999 of full scale or above. A
 * lone sample there is no proof: a take that was brought up to full scale has one. Either side; a take that was clipped
 * and raised counts too. */
#ifndef LINCTUS_CLIPPING_H
#define LINCTUS_CLIPPING_H

#include "dsp.h"

#define CLIPPING_FULL 0.999f

/* One channel. Zero it to reset. */
typedef struct {
    float last;
    bool flat; /* the last sample is known as clipped */
} Clipping;

/* Clipped samples that became known with these n: the first of a run is known with its second. */
uint32_t clipping_count(Clipping *c, const float *in, uint32_t n);

/* In its place where no sample reaches CLIPPING_FULL. last: of them. */
static inline void clipping_none(Clipping *c, float last)
{
    *c = (Clipping){.last = last};
}

#endif
