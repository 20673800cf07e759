#include "compressor_memory.h"

#include <stddef.h>

#define FRAME_UNIT  (1.0 / LEVELS_PARTS)
#define ENERGY_UNIT (1.0 / 256.0) /* what is stored has steps of that */

enum { LEVELS_ROOM = LEVELS_SPEEDS * LEVELS_BINS, ENERGIES_ROOM = LEVELS_SPEEDS * LEVELS_ROWS * LEVELS_OVERS };
enum { OLD_ROWS = 25 };     /* of blocks, in sessions from before the lowest eight were there */
enum { FILLING = 1, KEPT }; /* groups */

#define COUNTS(memory)                                                                                                 \
    LEVELS_ROOM, 0.f, LEVELS_MOST, LEARNED_IN(CompressorMemory, memory.count, LEARNED_ROW), .unit = FRAME_UNIT
#define BLOCKS(memory)                                                                                                 \
    LEVELS_FINE, 0.f, LEVELS_MOST, LEARNED_IN(CompressorMemory, memory.blocks, LEARNED_ROW),                           \
        .old = OLD_ROWS * LEVELS_STEP
#define ENERGIES(memory)                                                                                               \
    ENERGIES_ROOM, 0.f, LEVELS_MOST, LEARNED_IN(CompressorMemory, memory.energy, LEARNED_ROW),                         \
        .unit = ENERGY_UNIT, .parts = LEVELS_SPEEDS, .old = LEVELS_SPEEDS * OLD_ROWS * LEVELS_OVERS

const LearnedSchema compressor_schema = {
    .fields = 6,
    .field = {{"compressor_levels", COUNTS(filling), .group = FILLING},
              {"compressor_blocks", BLOCKS(filling), .group = FILLING},
              {"compressor_energies", ENERGIES(filling), .group = FILLING},
              {"compressor_kept_levels", COUNTS(kept), .group = KEPT},
              {"compressor_kept_blocks", BLOCKS(kept), .group = KEPT},
              {"compressor_kept_energies", ENERGIES(kept), .group = KEPT}},
};

static bool enough(const Levels *l)
{
    return l->frames >= LEVELS_ENOUGH;
}

const Levels *compressor_memory_in_force(const CompressorMemory *m)
{
    return enough(&m->filling) ? &m->filling : enough(&m->kept) ? &m->kept : NULL;
}

void compressor_memory_start_afresh(CompressorMemory *m)
{
    if (enough(&m->filling))
        m->kept = m->filling;
    levels_clear(&m->filling);
    ++m->version;
}

/* What is kept counts only while what is being filled is not enough. */
static void drop_kept(CompressorMemory *m)
{
    if (m->kept.frames && (enough(&m->filling) || !enough(&m->kept)))
        levels_clear(&m->kept);
}

void compressor_memory_add(CompressorMemory *m, const LevelsFrame *frame, bool voiced,
                           const LevelsFrame *const block[LEVELS_BLOCK])
{
    if (voiced)
        levels_add_voice(&m->filling, frame);
    if (block && m->filling.frames)
        levels_add_block(&m->filling, block);
    drop_kept(m);
    ++m->version;
}

void compressor_memory_replaced(CompressorMemory *m)
{
    m->filling.frames = levels_frames(&m->filling);
    m->kept.frames = levels_frames(&m->kept);
    drop_kept(m);
}
