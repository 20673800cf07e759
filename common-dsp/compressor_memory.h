/* What Compressor has learned: the levels (levels.h) of all that was heard since learning began. After a fresh start
 * those from before are kept and stay in force until enough is heard. */
#ifndef LINCTUS_COMPRESSOR_MEMORY_H
#define LINCTUS_COMPRESSOR_MEMORY_H

#include "learned.h"
#include "levels.h"

/* Zero it to empty it, but count `version` on. */
typedef struct {
    Levels filling, kept; /* levels being filled; those from before a fresh start, until `filling` has enough */
    double raised;        /* dB by which the voice now comes in louder than it was counted (compressor_hear_through()),
                             in steps of 1/256 */
    uint32_t version;     /* counts changes */
} CompressorMemory;

#define COMPRESSOR_RAISED_MOST 120.0 /* dB: most that `raised` may be, either way */

/* The stored fields of `kept`, a bit each: for a schema that stores only the levels in force. */
#define COMPRESSOR_KEPT_FIELDS (7u << 3)

/* How it is stored. */
extern const LearnedSchema compressor_schema;

/* The levels in force: `filling` once it has LEVELS_ENOUGH voiced frames, until then `kept`. NULL: neither has. */
const Levels *compressor_memory_in_force(const CompressorMemory *m);

/* Learning begins afresh: `filling` becomes `kept` if it has enough, and is emptied. */
void compressor_memory_start_afresh(CompressorMemory *m);

/* Adds a frame, and the block that ends with it, or NULL. A frame without a voice counts in its block alone; blocks
 * count once a voice was heard. */
void compressor_memory_add(CompressorMemory *m, const LevelsFrame *frame, bool voiced,
                           const LevelsFrame *const block[LEVELS_BLOCK]);

/* The stored fields have been replaced (learned_put()): works out the rest from them. */
void compressor_memory_replaced(CompressorMemory *m);

#endif
