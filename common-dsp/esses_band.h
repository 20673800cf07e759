/* The band that Esses works in, and the upper end of this voice's usual range in it. Both follow the controls at once;
 * what a new sibilant changes about the centre comes in three steps some cells apart, so that no block costs much more
 * than another. Method: esses.md. */
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
    double faintest; /* dB: fainter sibilants do not count for the centre */
    uint32_t left;   /* steps until what a new sibilant changes is in force; 0: all is */
    Work pace;       /* of them */

    bool sure;                      /* it lies where the hand put it, or at the centre found and not in its stead */
    double middle;                  /* log2 of Hz: middle of the band in force */
    double weight[SIBILANCE_BANDS]; /* 0..1: how much of each of the five lies in it */
    double upper;                   /* dB, the upper end of the usual range in it */
    bool known;                     /* enough sibilants are known for that */
    bool in_reach;                  /* it starts below 0.45 of the rate */
} EssesBand;

/* centre: Hz, 3000..10000; width: octaves, 0.3..2. In force at once, but for a centre that is still being found. */
void esses_band_set(EssesBand *b, const EssesMemory *m, double centre, double width, bool listening);

/* The memory is another one: all that follows from it, at once. */
void esses_band_renew(EssesBand *b, const EssesMemory *m);

/* The memory has one more sibilant: the upper end is in force at once, the centre within 96 cells. */
void esses_band_added(EssesBand *b, const EssesMemory *m);

/* Once a cell: one of the steps that are due. */
void esses_band_step(EssesBand *b, const EssesMemory *m);

#endif
