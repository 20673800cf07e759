#include "compressor_memory.h"

#include <stddef.h>

#define ENERGY_UNIT (1.0 / 256.0) /* what is stored has steps of that */

enum { LEVELS_ROOM = LEVELS_SPEEDS * LEVELS_BINS, ENERGIES_ROOM = LEVELS_SPEEDS * LEVELS_ROWS * LEVELS_OVERS };
enum { FILLING = 1, KEPT }; /* groups */

#define ROW(member) LEARNED_IN(CompressorMemory, member, LEARNED_ROW)

const LearnedSchema compressor_schema = {
    .fields = 6,
    .field =
        {
            {"compressor_levels", LEVELS_ROOM, 0.f, LEVELS_MOST, ROW(filling.count), .group = FILLING},
            {"compressor_blocks", LEVELS_FINE, 0.f, LEVELS_MOST, ROW(filling.blocks), .group = FILLING},
            {"compressor_energies", ENERGIES_ROOM, 0.f, LEVELS_MOST, ROW(filling.energy), .unit = ENERGY_UNIT,
             .group = FILLING},
            {"compressor_kept_levels", LEVELS_ROOM, 0.f, LEVELS_MOST, ROW(kept.count), .group = KEPT},
            {"compressor_kept_blocks", LEVELS_FINE, 0.f, LEVELS_MOST, ROW(kept.blocks), .group = KEPT},
            {"compressor_kept_energies", ENERGIES_ROOM, 0.f, LEVELS_MOST, ROW(kept.energy), .unit = ENERGY_UNIT,
             .group = KEPT},
        },
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
    levels_count_frames(&m->filling);
    levels_count_frames(&m->kept);
    drop_kept(m);
}
