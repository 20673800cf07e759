/* What Compressor has learned: the levels (levels.h) of all that was heard since learning began, and, after a fresh
 * start, those from before, which stay in force until enough is heard. */
#ifndef LINCTUS_COMPRESSOR_MEMORY_H
#define LINCTUS_COMPRESSOR_MEMORY_H

#include "learned.h"
#include "levels.h"

/* Zero it to empty it; but count `version` on. */
typedef struct {
    Levels filling, kept; /* the one being filled; the one from before learning began afresh, until that is enough */
    double raised;        /* dB, by which the voice now comes in louder than it was counted (compressor_hear_through());
                             in steps of 1/256 */
    uint32_t version;     /* counts changes */
} CompressorMemory;

#define COMPRESSOR_RAISED_MOST 120.0 /* dB, either way */

/* Fields of the levels from before a fresh start, a bit each: for a schema that stores those in force alone. */
#define COMPRESSOR_KEPT_FIELDS (7u << 3)

/* How it is stored. */
extern const LearnedSchema compressor_schema;

/* The levels whose figures are in force: those being filled once LEVELS_ENOUGH voiced frames are heard, until then
 * those from before. NULL: neither is enough. */
const Levels *compressor_memory_in_force(const CompressorMemory *m);

/* Begins an empty one. What was being filled is kept if it is enough; else what was kept before stays. */
void compressor_memory_start_afresh(CompressorMemory *m);

/* One more frame, and the block that ends with it, or NULL. A frame without a voice counts in its block alone; blocks
 * count once a voice was heard. */
void compressor_memory_add(CompressorMemory *m, const LevelsFrame *frame, bool voiced,
                           const LevelsFrame *const block[LEVELS_BLOCK]);

/* The fields have been replaced (learned_put()): the rest follows from them. */
void compressor_memory_replaced(CompressorMemory *m);

#endif
