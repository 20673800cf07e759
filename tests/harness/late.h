/* Whether one side of a stereo take is late: two microphones at different distances, or a mono take made wide. The
 * mean of both sides, and so what a listener in mono hears, is a comb then.
 *
 * The sides' correlation by lag, over the whole take: of their differences from sample to sample, so that the voice's
 * own low end does not make all lags alike, at one moment in 2 ms. One side is late where the highest correlation lies
 * at a lag of 0.25 to 10 ms, is half of what equal sides would have or more, and half as much again as any of nearly
 * no lag. A steady note, or a room, makes other lags no better than none. Method and limits ours, settled on the
 * invented singer, spread, delayed and in rooms. */
#ifndef LINCTUS_HARNESS_LATE_H
#define LINCTUS_HARNESS_LATE_H

#include "error.h"

#include <stdint.h>

/* One take. Zero it to begin with. */
typedef struct {
    double rate;
    uint32_t longest, every; /* samples: the longest lag; from one moment that counts to the next */
    uint32_t at, wait; /* where the next sample goes, in a ring of twice the longest lag and 1; to the next moment */
    float last[2], *past[2];    /* the last samples; rings of differences */
    double square[2], *product; /* sums: by lag, from the second side earliest to the first side earliest */
} Late;

/* false: out of memory. */
bool late_start(Late *l, double rate, Error *e);
void late_free(Late *l); /* safe on a zeroed struct, and twice */

void late_hear(Late *l, const float *first, const float *second, uint32_t n);

/* ms by which the second side is late; less than 0: the first one; 0: neither. */
double late_by(const Late *l);

#endif
