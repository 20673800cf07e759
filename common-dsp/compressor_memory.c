#include "compressor_memory.h"

#include <stddef.h>

#define FRAME_UNIT  (1.0 / LEVELS_PARTS) /* frames: step of a stored count of frames */
#define ENERGY_UNIT (1.0 / 256.0)        /* step of a stored energy */

enum { LEVELS_ROOM = LEVELS_SPEEDS * LEVELS_BINS, ENERGIES_ROOM = LEVELS_SPEEDS * LEVELS_ROWS * LEVELS_OVERS };
enum { FILLING = 1, KEPT }; /* groups of fields */

/* Older sessions lack the lowest eight rows of blocks. */
enum {
    OLD_ROWS = 25,
    OLD_BLOCKS = OLD_ROWS * LEVELS_STEP,
    OLD_ENERGIES = LEVELS_SPEEDS * OLD_ROWS * LEVELS_OVERS,
};

enum { RAISED = 6, FIELDS };

static void write_raised(const void *memory, Learned *to);
static void read_raised(void *memory, const Learned *from);

#define ROW(member) LEARNED_IN(CompressorMemory, member, LEARNED_ROW)

const LearnedSchema compressor_schema = {
    .fields = FIELDS,
    .field =
        {
            {"compressor_levels", LEVELS_ROOM, 0.f, LEVELS_MOST, ROW(filling.count), FRAME_UNIT, FILLING},
            {"compressor_blocks", LEVELS_FINE, 0.f, LEVELS_MOST, ROW(filling.blocks), 1.0, FILLING, 1, OLD_BLOCKS},
            {"compressor_energies", ENERGIES_ROOM, 0.f, LEVELS_MOST, ROW(filling.energy), ENERGY_UNIT, FILLING,
             LEVELS_SPEEDS, OLD_ENERGIES},
            {"compressor_kept_levels", LEVELS_ROOM, 0.f, LEVELS_MOST, ROW(kept.count), FRAME_UNIT, KEPT},
            {"compressor_kept_blocks", LEVELS_FINE, 0.f, LEVELS_MOST, ROW(kept.blocks), 1.0, KEPT, 1, OLD_BLOCKS},
            {"compressor_kept_energies", ENERGIES_ROOM, 0.f, LEVELS_MOST, ROW(kept.energy), ENERGY_UNIT, KEPT,
             LEVELS_SPEEDS, OLD_ENERGIES},
            [RAISED] = {"compressor_raised", 1, (float)-COMPRESSOR_RAISED_MOST, (float)COMPRESSOR_RAISED_MOST,
                        .kind = LEARNED_CODED},
        },
    .write = write_raised,
    .read = read_raised,
};

static void write_raised(const void *memory, Learned *to)
{
    const CompressorMemory *m = memory;
    to->count[RAISED] = 1;
    *learned_field(&compressor_schema, to, RAISED) = (float)m->raised;
}

/* Older sessions lack the field: not raised. */
static void read_raised(void *memory, const Learned *from)
{
    CompressorMemory *m = memory;
    m->raised = from->count[RAISED] ? (double)from->value[learned_at(&compressor_schema, RAISED)] : 0.0;
}

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

/* `kept` counts only while `filling` has not enough. */
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
