/* Counts clipped samples: runs of two or more equal samples of magnitude CLIPPING_FULL or more. A lone sample there
 * proves nothing, as a take normalised to full scale has one. A take that was clipped and then raised counts too. */
#ifndef LINCTUS_CLIPPING_H
#define LINCTUS_CLIPPING_H

#include "dsp.h"

#define CLIPPING_FULL 0.999f /* of full scale */

/* One channel. Zero it to reset. */
typedef struct {
    float last; /* the last sample */
    bool flat;  /* it is known as clipped */
} Clipping;

/* Hears n samples of a channel. Returns how many clipped ones became known: the first of a run with its second. */
uint32_t clipping_count(Clipping *c, const float *in, uint32_t n);

/* Does the same as clipping_count() for samples none of which reaches CLIPPING_FULL. last: the last of them. */
static inline void clipping_none(Clipping *c, float last)
{
    *c = (Clipping){.last = last};
}

#endif
