/* What Esses learns: the sibilants of one voice, each by its levels in five bands.
 *
 * At most ESSES_MEMORY are kept. With one more, the two nearest to each other are joined to their mean, which counts as
 * often as both did, so every sibilant ever heard goes on counting. After a fresh start new sibilants are kept apart
 * until there are ESSES_ENOUGH; then these alone are the memory. Why: esses.md. */
#ifndef LINCTUS_ESSES_MEMORY_H
#define LINCTUS_ESSES_MEMORY_H

#include "learned.h"
#include "sibilance.h"

enum {
    ESSES_MEMORY = 200, /* most sibilants kept, alone or joined */
    ESSES_ENOUGH = 5,   /* sibilants that make a figure */
};

/* A sibilant's levels as measured by sibilance.h: dB in steps of 1/256, -200..60. */
typedef struct {
    float level[SIBILANCE_BANDS];
} EssesSibilant;

/* A sibilant that is kept, and what is worked out from it once. */
typedef struct {
    EssesSibilant sibilant;
    float times;                   /* how many it is the mean of: whole, 1..2^24 */
    double power[SIBILANCE_BANDS]; /* mean squares of its levels */
    double densest, density;       /* sibilance_densest(): log2 of Hz, dB */
    uint32_t nearest;              /* place of the one nearest to it; valid only in a full memory */
    double distance;               /* to that one, squared, dB^2 summed over the bands; infinite: there is no other */
} EssesKnown;

typedef struct {
    EssesKnown known[ESSES_MEMORY + 1]; /* the last place is for one more, until two are joined */
    uint32_t count;                     /* 0, or ESSES_ENOUGH..ESSES_MEMORY */
    uint32_t compared;                  /* places of a full memory whose nearest is known, from the first on */
    EssesSibilant fresh[ESSES_ENOUGH];  /* sibilants since the fresh start */
    uint32_t fresh_count;               /* 0..ESSES_ENOUGH - 1 */
    bool afresh;                        /* new sibilants go to `fresh` */
    double raised; /* dB by which sibilants now come in louder than they were noted, in steps of 1/256 */
} EssesMemory;

#define ESSES_RAISED_MOST 160.0 /* dB: most that `raised` may be, either way */

/* How it is stored. Fewer than ESSES_ENOUGH sibilants, or levels for part of one, restore as none; counts that do not
 * fit the levels restore as 1 each. */
extern const LearnedSchema esses_schema;

/* Empties the memory; new sibilants are kept apart until there are enough. */
void esses_memory_clear(EssesMemory *m);

/* From now on new sibilants are kept apart; what is known stays until there are enough of them. */
void esses_memory_start_afresh(EssesMemory *m);

typedef enum {
    ESSES_KEPT_APART, /* what is known has not changed */
    ESSES_ADDED,      /* one more is known */
    ESSES_REPLACED,   /* the fresh ones are now all that is known */
} EssesChange;

/* Adds a sibilant that has ended. level: dB, which is rounded and held within -200..60 here. */
EssesChange esses_memory_add(EssesMemory *m, const double level[SIBILANCE_BANDS]);

/* Whether both are one and the same sound that has come again, as in a loop: levels of the same shape to 0.05 dB, and
 * as loud to 3 dB, as a gain ahead may have moved. esses.md has how well that tells them apart. */
bool esses_memory_same(const double a[SIBILANCE_BANDS], const double b[SIBILANCE_BANDS]);

/* Whether that sound is known already. One that was joined to another is not found again; and while a fresh start waits
 * for its first five, none is, so that each of these counts. */
bool esses_memory_knows(const EssesMemory *m, const double level[SIBILANCE_BANDS]);

/* Call it once a cell: prepares a full memory, part by part, for the next sibilant. All parts are done ESSES_MEMORY
 * cells (0.13 s at 48 kHz) after the memory was filled or restored; a sibilant before that does the rest at once. */
void esses_memory_step(EssesMemory *m);

#endif
