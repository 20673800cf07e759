/* The sibilants of one voice, as loud as each was in five bands: what Esses learns.
 *
 * It keeps at most ESSES_MEMORY of them. With one more, the two that are nearest to each other become one, their mean,
 * which counts as often as both did: every sibilant ever heard goes on counting. After a fresh start new sibilants are
 * kept apart until there are ESSES_ENOUGH; then these alone are the memory. Why: esses.md. */
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

/* One that is kept, and what is worked out of it once. */
typedef struct {
    EssesSibilant sibilant;
    float times;                   /* how many it is the mean of: whole, 1..2^24 */
    double power[SIBILANCE_BANDS]; /* mean squares of its levels */
    double densest, density;       /* sibilance_densest(): log2 of Hz, dB */
    uint32_t nearest;              /* place of the one most like it; in a full memory alone, as is the next */
    double distance;               /* to that one, squared, dB^2 over the bands; infinite: there is no other */
} EssesKnown;

typedef struct {
    EssesKnown known[ESSES_MEMORY + 1]; /* the last place: until two have become one */
    uint32_t count;                     /* 0, or ESSES_ENOUGH..ESSES_MEMORY */
    uint32_t compared;                  /* places of a full memory whose nearest is known, from the first on */
    EssesSibilant fresh[ESSES_ENOUGH];  /* since the fresh start */
    uint32_t fresh_count;               /* 0..ESSES_ENOUGH - 1 */
    bool afresh;                        /* sibilants go to `fresh` */
    double
        raised; /* dB, by which they now come in louder than they were noted (esses_hear_through()); in steps of 1/256
                 */
} EssesMemory;

#define ESSES_RAISED_MOST 160.0 /* dB, either way */

/* How it is stored. Fewer than ESSES_ENOUGH levels, or part of a sibilant's, are none; counts that do not fit the
 * levels are 1 each. */
extern const LearnedSchema esses_schema;

/* Nothing is known; what comes is kept apart until it is enough. */
void esses_memory_clear(EssesMemory *m);

/* From now on what comes is kept apart; what is known stays until that is enough. */
void esses_memory_start_afresh(EssesMemory *m);

typedef enum {
    ESSES_KEPT_APART, /* what is known is as it was */
    ESSES_ADDED,      /* one more is known */
    ESSES_REPLACED,   /* the fresh ones are now all that is known */
} EssesChange;

/* A sibilant has ended. level: dB; rounded and held within the range here. */
EssesChange esses_memory_add(EssesMemory *m, const double level[SIBILANCE_BANDS]);

/* A part of what a full memory needs before the next sibilant: once a cell. All parts are done ESSES_MEMORY cells (0.13
 * s at 48 kHz) after the memory was filled or restored; a sibilant that comes before does the rest at once. */
void esses_memory_step(EssesMemory *m);

#endif
