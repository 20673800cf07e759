/* Heard before: recognises sound that has come once already, at any gain, such as a loop that is played over and over
 * during set-up. Counting it again would teach nothing new, but would shift what was learned from the rest.
 *
 * Method: it looks only at where the sound rises through zero, so a gain ahead of it, steady or moving, changes
 * nothing. It cuts the take into stretches of 0.35 s at most (0.4 s where eight crossings take longer). The last eight
 * crossings alone decide where a cut lies, about HEARD_BEFORE_CUTS times a second; so a passage that comes again is
 * soon cut at the same places, wherever it begins. A stretch is recognised by a hash of the distances between its
 * crossings, in samples. This is content-defined chunking (A. Muthitacharoen, B. Chen, D. Mazieres, A low-bandwidth
 * network file system, SOSP 2001) with crossings in the place of bytes. The stored hashes represent all that was heard
 * evenly: when the store is full, about half of them are dropped, namely those in which the next bit is set. From then
 * on only stretches whose hash would be kept are judged. Every other stretch gets the verdict of the last one that was
 * judged.
 *
 * Only one and the same recording repeats to the sample: two takes of one verse are both new. Sound that has passed
 * through anything but a gain is new too. A tone whose period is a whole number of samples repeats itself. At most one
 * new stretch in twenty thousand is taken for a repeat. */
#ifndef LINCTUS_HEARD_BEFORE_H
#define LINCTUS_HEARD_BEFORE_H

#include "dsp.h"

#define HEARD_BEFORE_CUTS 6.0 /* cuts a second of sound, without those made because a stretch is at its longest */

enum {
    HEARD_BEFORE_KEPT = 640,        /* stretches; the first minute and a half fills them */
    HEARD_BEFORE_HASHES = 1 << 24,  /* every hash is below this */
    HEARD_BEFORE_MOST_THINNED = 16, /* times; by then the store covers two months of sound */
};

/* What is remembered. Zero it to know nothing. */
typedef struct {
    uint32_t hash[HEARD_BEFORE_KEPT]; /* the lowest `thinned` bits of each are 0 */
    uint32_t count, thinned;
} HeardStretches;

typedef struct {
    uint32_t longest, pause, slot; /* samples: longest stretch; gap without a crossing that ends one; a bit's slot */
    double cuts;                   /* a hash below this times the samples since the last crossing makes a cut */

    uint64_t heard, last, began; /* samples since init: all; up to the last crossing; up to the stretch's start */
    bool above, pausing, again;  /* the last sample was above 0; no stretch runs; the last one judged was a repeat */
    uint32_t recent;             /* hash of the last eight distances between crossings */
    uint32_t stretch, crossings; /* of the stretch under way: hash of all its distances; number of its crossings */
    uint64_t marked, repeats;    /* last slot of the last repeat; a bit each for it and the 63 slots before it */
    uint32_t remembered;         /* counts the stretches judged to be new */
} HeardBefore;

/* rate: DSP_RATE_MIN..DSP_RATE_MAX. Allocates nothing. It starts with nothing heard. */
void heard_before_init(HeardBefore *h, double rate);

/* Call it when the next sample does not follow on from the last. */
void heard_before_reset(HeardBefore *h);

/* Takes in the next n samples, any n. */
void heard_before_process(HeardBefore *h, HeardStretches *known, const float *in, uint32_t n);

/* Whether the sound `ago` samples back was a repeat. Known 0.36 s after that sound, and for another 0.25 s. */
bool heard_before_at(const HeardBefore *h, uint32_t ago);

#endif
