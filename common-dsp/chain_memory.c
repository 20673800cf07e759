#include "chain.h"

#include <math.h>
#include <string.h>

/* ---- Tone's pieces, two levels in a figure ---- */

enum {
    LEVELS_IN = 4096,          /* codes of a level; 0: no level */
    LEVELS_DB = 16,            /* codes in a dB */
    LEVELS_FROM = -240,        /* dB of code 0 */
    PAIRS = PARTIALS_MOST / 2, /* pairs of levels in a piece */
    PIECE_FIGURES = 1 + PAIRS, /* figures in a piece: its frequency, then the pairs */
};
#define PAIR_UNIT (1.0 / 256.0) /* step of a stored figure (learned.h) */

static uint32_t code_of(double db)
{
    return (uint32_t)dsp_clamp(round((db - LEVELS_FROM) * LEVELS_DB), 1.0, LEVELS_IN - 1.0);
}

static float level_of(uint32_t code)
{
    return (float)(LEVELS_FROM + code / (double)LEVELS_DB);
}

void chain_round_piece(ResonanceMemory *notes)
{
    ResonancePiece *p = notes->pieces ? &notes->piece[notes->pieces - 1] : NULL;
    for (uint32_t k = 0; p && k < p->count; ++k)
        p->level[k] = level_of(code_of((double)p->level[k]));
}

/* The levels were rounded when the piece came, so their codes are whole numbers, which floats hold exactly. */
static void write_piece(const ResonancePiece *p, float *to)
{
    float code[PARTIALS_MOST] = {0.f};
    to[0] = p->hz;
    for (uint32_t k = 0; k < p->count; ++k)
        code[k] = (p->level[k] - LEVELS_FROM) * LEVELS_DB;
    for (size_t k = 0; k < PAIRS; ++k)
        to[1 + k] = (float)PAIR_UNIT * (code[2 * k] * LEVELS_IN + code[2 * k + 1]);
}

/* Reads levels up to the first code of 0. A piece without levels or outside the range of pitch is dropped. */
static void read_piece(ResonanceMemory *m, const float *from)
{
    ResonancePiece p = {.hz = from[0]};
    for (bool on = true; on && p.count < PARTIALS_MOST;) {
        const uint32_t pair = (uint32_t)((double)from[1 + p.count / 2] / PAIR_UNIT + 0.5);
        const uint32_t code = p.count % 2 ? pair % LEVELS_IN : pair / LEVELS_IN;
        on = code > 0;
        if (on)
            p.level[p.count++] = level_of(code);
    }
    if (p.hz >= (float)PITCH_LOWEST && p.hz <= (float)PITCH_HIGHEST && p.count)
        m->piece[m->pieces++] = p;
}

/* ---- All of it ---- */

enum { PIECES, BEFORE, FROM, PEAKS, FIELDS };

static void write_memory(const void *memory, Learned *to);
static void read_memory(void *memory, const Learned *from);

static const LearnedPart parts[] = {
    {&trim_schema, offsetof(Chain, trim.memory), 0, offsetof(Chain, trim.version), 0},
    {&tone_schema, offsetof(Chain, tone.memory), TONE_NOTES_FIELD, offsetof(Chain, tone.memory.version), 0},
    {&compressor_schema, offsetof(Chain, compressor.memory), COMPRESSOR_KEPT_FIELDS,
     offsetof(Chain, compressor.memory.version), 1u << BEFORE},
    {&esses_schema, offsetof(Chain, esses.memory), 0, offsetof(Chain, esses.version), 0},
    {&learned_nothing, offsetof(Chain, tone.memory.notes), 0, offsetof(Chain, tone.memory.notes_version), 1u << PIECES},
};

const LearnedSchema chain_schema = {
    .fields = FIELDS,
    .field = {[PIECES] = {"chain_notes", RESONANCE_PIECES *PIECE_FIGURES, 0.f, 65536.f, .kind = LEARNED_CODED},
              [BEFORE] = {"chain_afresh", 1, 0.f, 1.f, .kind = LEARNED_CODED},
              [FROM] = {"chain_from", CHAIN_BEHIND, (float)CHAIN_FROM_NONE, 400.f, .kind = LEARNED_CODED},
              [PEAKS] = {"chain_peaks", 1, -48.f, 48.f, .kind = LEARNED_CODED}},
    .write = write_memory,
    .read = read_memory,
    .parts = sizeof parts / sizeof *parts,
    .part = parts,
    .room = offsetof(Chain, figures),
};

_Static_assert(sizeof parts / sizeof *parts <= LEARNED_PARTS, "room for all parts");

/* The first field of Compressor's levels among all that Chain stores. */
static uint32_t levels_field(void)
{
    uint32_t f = FIELDS;
    for (uint32_t p = 0; parts[p].schema != &compressor_schema; ++p)
        for (uint32_t k = 0; k < parts[p].schema->fields; ++k)
            f += !(parts[p].without >> k & 1u);
    return f;
}

/* Stores the levels from before a fresh start, which are in force, in place of those being filled. */
static void write_kept(const Chain *c, Learned *to)
{
    enum { LEVEL_FIELDS = 3 };
    Learned all = {.value = c->figures};
    learned_get(&compressor_schema, &c->compressor.memory, &all);
    for (uint32_t k = 0, f = levels_field(); k < LEVEL_FIELDS; ++k, ++f) {
        to->count[f] = all.count[LEVEL_FIELDS + k];
        memcpy(learned_field(&chain_schema, to, f), learned_field(&compressor_schema, &all, LEVEL_FIELDS + k),
               to->count[f] * sizeof *to->value);
    }
}

static void write_pieces(const ResonanceMemory *notes, Learned *to)
{
    float *piece = learned_field(&chain_schema, to, PIECES);
    to->count[PIECES] = notes->pieces ? notes->pieces * PIECE_FIGURES : 1; /* a single figure stands for no piece */
    piece[0] = 0.f;
    for (uint32_t i = 0; i < notes->pieces; ++i)
        write_piece(&notes->piece[i], piece + (size_t)i * PIECE_FIGURES);
}

static void write_levels(const Chain *c, Learned *to)
{
    const CompressorMemory *levels = &c->compressor.memory;
    const bool kept = compressor_memory_in_force(levels) == &levels->kept;
    to->count[BEFORE] = 1;
    *learned_field(&chain_schema, to, BEFORE) = kept ? 1.f : 0.f;
    if (kept)
        write_kept(c, to);
}

static void write_memory(const void *memory, Learned *to)
{
    const Chain *c = memory;
    float *from = learned_field(&chain_schema, to, FROM);
    if (!(to->skipped >> PIECES & 1u))
        write_pieces(&c->tone.memory.notes, to);
    if (!(to->skipped >> BEFORE & 1u))
        write_levels(c, to);
    to->count[PEAKS] = 1;
    *learned_field(&chain_schema, to, PEAKS) = (float)learned_round(dsp_clamp(peaks_raised(&c->peaks), -48.0, 48.0));
    to->count[FROM] = CHAIN_BEHIND;
    for (uint32_t i = 0; i < CHAIN_BEHIND; ++i)
        from[i] = (float)c->from[i];
}

static void read_memory(void *memory, const Learned *from)
{
    Chain *c = memory;
    const float *piece = from->value + learned_at(&chain_schema, PIECES);
    const float *reference = from->value + learned_at(&chain_schema, FROM);
    c->tone.memory.notes.pieces = 0;
    peaks_known(&c->peaks, from->count[PEAKS] ? (double)from->value[learned_at(&chain_schema, PEAKS)] : 0.0);
    for (uint32_t i = 0; i < from->count[PIECES] / PIECE_FIGURES; ++i)
        read_piece(&c->tone.memory.notes, piece + (size_t)i * PIECE_FIGURES);
    for (uint32_t i = 0; i < CHAIN_BEHIND; ++i)
        c->from[i] = from->count[FROM] == CHAIN_BEHIND ? (double)reference[i] : CHAIN_FROM_NONE;
    if (from->count[BEFORE] && from->value[learned_at(&chain_schema, BEFORE)] >= 1.f) {
        c->compressor.memory.kept = c->compressor.memory.filling;
        levels_clear(&c->compressor.memory.filling);
    }
}
