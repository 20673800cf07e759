/* Heard before: tells sound that has come once already, at any gain, such as a loop that is played over and over while
 * one sets up. Counted again it would teach nothing new, but would move what was learned from the rest.
 *
 * Method: only where the sound rises through zero is looked at, so that a gain before it, moving or not, changes
 * nothing. The take is cut into stretches of 0.35 s at most. Where a cut lies follows from the last eight crossings
 * alone, about HEARD_BEFORE_CUTS times a second; so a passage that comes again is soon cut at the same places, wherever
 * it begins. A stretch is known again by a hash of the samples between its crossings. This is content-defined chunking
 * (A. Muthitacharoen, B. Chen, D. Mazieres, A low-bandwidth network file system, SOSP 2001) with crossings in the place
 * of bytes. What is remembered stands evenly for all that was heard: when it is full, every second hash is dropped, by
 * a bit of its own, and from then on only such stretches are judged; the others go with the last one that was.
 *
 * A recording repeats to the sample only where it is the same recording: two takes of one verse are both new. Sound
 * that has gone through anything but a gain is new too. A tone whose period is a whole number of samples repeats by
 * itself. Of stretches that are new one in twenty thousand or fewer is taken for a repeat. */
#ifndef LINCTUS_HEARD_BEFORE_H
#define LINCTUS_HEARD_BEFORE_H

#include "dsp.h"

#define HEARD_BEFORE_CUTS 6.0 /* cuts a second of sound, besides those that the longest stretch makes */

enum {
    HEARD_BEFORE_KEPT = 640,        /* stretches: those of the first minute and a half, and so on */
    HEARD_BEFORE_HASHES = 1 << 24,  /* hashes lie below this */
    HEARD_BEFORE_MOST_THINNED = 16, /* stands for two months of sound */
};

/* What is remembered. Zero it to know nothing. */
typedef struct {
    uint32_t hash[HEARD_BEFORE_KEPT]; /* the lowest `thinned` bits of each are 0 */
    uint32_t count, thinned;
} HeardStretches;

typedef struct {
    uint32_t longest, pause, slot; /* samples: of a stretch; without a crossing that end one; of a bit in `repeats` */
    double cuts;                   /* hashes below this times the samples since the last crossing make a cut */

    uint64_t heard, last, began; /* samples since the init; where the last crossing lies; where the stretch began */
    bool above, pausing, again;  /* the last sample lay above 0; no stretch is under way; the last one came before */
    uint32_t recent;             /* hash of the last eight distances between crossings */
    uint32_t stretch, crossings; /* of the stretch under way: hash of all of those, and how many */
    uint64_t marked, repeats;    /* the last slot that came before; a bit for it and the 63 slots before it */
    uint32_t remembered;         /* counts stretches that were */
} HeardBefore;

/* rate: DSP_RATE_MIN..DSP_RATE_MAX. Allocates nothing; nothing was heard. */
void heard_before_init(HeardBefore *h, double rate);

/* What comes next does not follow what came last. */
void heard_before_reset(HeardBefore *h);

/* Takes in the next n samples, any n. */
void heard_before_process(HeardBefore *h, HeardStretches *known, const float *in, uint32_t n);

/* Has the sound of `ago` samples back come before? Known 0.36 s after it, and for 0.25 s from then on. */
bool heard_before_at(const HeardBefore *h, uint32_t ago);

#endif
