/* The band that Esses works in, and the upper end of this voice's usual range in it. Both follow the controls at once.
 * After a new sibilant the centre is found anew in three steps some cells apart, so that no block costs much more than
 * another. Method: esses.md. */
#ifndef LINCTUS_ESSES_BAND_H
#define LINCTUS_ESSES_BAND_H

#include "esses_figures.h"
#include "work.h"

/* Zero it and set the rate, before anything else. */
typedef struct {
    double rate;          /* Hz */
    double centre, width; /* as set: Hz, octaves */
    bool listening;       /* the band lies at the centre found, once there is one */

    double found;    /* log2 of Hz: centre found; 0: none yet */
    double faintest; /* dB: least density of sibilants that count for the centre */
    uint32_t left;   /* steps until the centre takes in all sibilants; 0: it does */
    Work pace;       /* spreads these steps over the cells */

    bool sure;                      /* it lies where the hand put it, or at the centre found and not in its stead */
    double middle;                  /* log2 of Hz: middle of the band in force */
    double weight[SIBILANCE_BANDS]; /* 0..1: how much of each of the five bands lies in it */
    double upper;                   /* dB: upper end of the usual range in it */
    bool known;                     /* enough sibilants are known for `upper` */
    bool in_reach;                  /* it starts below 0.45 of the rate */
} EssesBand;

/* centre: Hz, 3000..10000; width: octaves, 0.3..2. In force at once, but for a centre that is still being found. */
void esses_band_set(EssesBand *b, const EssesMemory *m, double centre, double width, bool listening);

/* Call it when the memory was replaced: works everything out at once. */
void esses_band_renew(EssesBand *b, const EssesMemory *m);

/* Call it when the memory has one more sibilant: the upper end is in force at once, the centre within 96 cells. */
void esses_band_added(EssesBand *b, const EssesMemory *m);

/* Call it once a cell: does the step that is due, if any. */
void esses_band_step(EssesBand *b, const EssesMemory *m);

#endif
