#include "compressor_memory.h"

#include <stddef.h>

#define FRAME_UNIT  (1.0 / LEVELS_PARTS)
#define BLOCK_UNIT  1.0
#define ENERGY_UNIT (1.0 / 256.0) /* what is stored has steps of that */

enum { OLD_ROWS = 25 }; /* of blocks, in sessions from before the lowest eight were there */

/* Of the memory that is being filled; and of the one from before a fresh start, as long as that is in force. */
enum { LEVELS, BLOCKS, ENERGIES, FIELDS_EACH, KEPT = FIELDS_EACH, FIELDS = 2 * FIELDS_EACH };
enum { LEVELS_ROOM = LEVELS_SPEEDS * LEVELS_BINS, ENERGIES_ROOM = LEVELS_SPEEDS * LEVELS_ROWS * LEVELS_OVERS };

const LearnedSchema compressor_schema = {
    .fields = FIELDS,
    .field = {[LEVELS] = {"compressor_levels", LEVELS_ROOM, 0.f, LEVELS_MOST},
              [BLOCKS] = {"compressor_blocks", LEVELS_FINE, 0.f, LEVELS_MOST},
              [ENERGIES] = {"compressor_energies", ENERGIES_ROOM, 0.f, LEVELS_MOST},
              [KEPT + LEVELS] = {"compressor_kept_levels", LEVELS_ROOM, 0.f, LEVELS_MOST},
              [KEPT + BLOCKS] = {"compressor_kept_blocks", LEVELS_FINE, 0.f, LEVELS_MOST},
              [KEPT + ENERGIES] = {"compressor_kept_energies", ENERGIES_ROOM, 0.f, LEVELS_MOST}},
};

const Levels *compressor_memory_in_force(const CompressorMemory *m)
{
    for (uint32_t i = 0; i < 2; ++i) {
        const Levels *l = &m->levels[(m->filling + i) % 2];
        if (l->frames >= LEVELS_ENOUGH)
            return l;
    }
    return NULL;
}

void compressor_memory_start_afresh(CompressorMemory *m)
{
    if (m->levels[m->filling].frames >= LEVELS_ENOUGH)
        m->filling = 1 - m->filling;
    levels_clear(&m->levels[m->filling]);
    ++m->version;
}

void compressor_memory_add(CompressorMemory *m, const LevelsFrame *frame, bool voiced,
                           const LevelsFrame *const block[LEVELS_BLOCK])
{
    Levels *l = &m->levels[m->filling];
    if (voiced)
        levels_add_voice(l, frame);
    if (block && l->frames)
        levels_add_block(l, block);
    ++m->version;
}

/* ---- Storing and restoring ---- */

/* A row of counts, and where the next one goes. */
static float *write_row(float *to, const uint32_t *count, uint32_t n, double unit)
{
    for (uint32_t i = 0; i < n; ++i)
        *to++ = (float)(count[i] * unit);
    return to;
}

static const float *read_row(const float *from, uint32_t *count, uint32_t n, double unit)
{
    for (uint32_t i = 0; i < n; ++i)
        count[i] = (uint32_t)(*from++ / unit + 0.5);
    return from;
}

/* The fields from `first` on: full, or not there. */
static void set_counts(Learned *learned, uint32_t first, bool there)
{
    for (uint32_t field = first; field < first + FIELDS_EACH; ++field)
        learned->count[field] = there ? compressor_schema.field[field].max : 0;
}

/* Of blocks: 0 where a field is missing, or they do not belong together. Old sessions lack the lowest rows. */
static uint32_t rows_there(const Learned *learned, uint32_t first)
{
    const uint32_t *count = learned->count + first;
    const uint32_t rows = count[BLOCKS] / LEVELS_STEP;
    const bool whole = count[LEVELS] == LEVELS_ROOM && count[BLOCKS] == rows * LEVELS_STEP &&
                       count[ENERGIES] == LEVELS_SPEEDS * rows * LEVELS_OVERS;
    return whole && (rows == LEVELS_ROWS || rows == OLD_ROWS) ? rows : 0;
}

static void write_levels(Learned *learned, uint32_t first, const Levels *l)
{
    const bool there = l && l->frames;
    set_counts(learned, first, there);
    if (!there)
        return;
    float *levels = learned_field(&compressor_schema, learned, first + LEVELS);
    float *energies = learned_field(&compressor_schema, learned, first + ENERGIES);
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s) {
        levels = write_row(levels, l->count[s], LEVELS_BINS, FRAME_UNIT);
        for (uint32_t row = 0; row < LEVELS_ROWS; ++row)
            energies = write_row(energies, l->energy[s][row], LEVELS_OVERS, ENERGY_UNIT);
    }
    write_row(learned_field(&compressor_schema, learned, first + BLOCKS), l->blocks, LEVELS_FINE, BLOCK_UNIT);
}

static void read_levels(const Learned *learned, uint32_t first, Levels *l)
{
    levels_clear(l);
    const uint32_t rows = rows_there(learned, first), lowest = LEVELS_ROWS - rows;
    if (!rows)
        return;
    const float *levels = learned->value + learned_at(&compressor_schema, first + LEVELS);
    const float *energies = learned->value + learned_at(&compressor_schema, first + ENERGIES);
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s) {
        levels = read_row(levels, l->count[s], LEVELS_BINS, FRAME_UNIT);
        for (uint32_t row = lowest; row < LEVELS_ROWS; ++row)
            energies = read_row(energies, l->energy[s][row], LEVELS_OVERS, ENERGY_UNIT);
    }
    read_row(learned->value + learned_at(&compressor_schema, first + BLOCKS), l->blocks + lowest * LEVELS_STEP,
             rows * LEVELS_STEP, BLOCK_UNIT);
    l->frames = levels_frames(l);
}

void compressor_memory_get(const CompressorMemory *m, Learned *learned)
{
    const Levels *filling = &m->levels[m->filling], *force = compressor_memory_in_force(m);
    write_levels(learned, LEVELS, filling);
    write_levels(learned, KEPT, force == filling ? NULL : force);
}

void compressor_memory_put(CompressorMemory *m, const Learned *learned)
{
    read_levels(learned, LEVELS, &m->levels[m->filling]);
    read_levels(learned, KEPT, &m->levels[1 - m->filling]);
    ++m->version;
}
