#include "tone_memory.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

#define MOST_THINNED 16            /* times that the pieces can have been thinned: stands for a year of voice */
#define NO_LEVEL     (-240.f)      /* dB, stored for a harmonic that a piece does not have: below any measured level */
#define UNIT         (1.0 / 256.0) /* step in which the spectrum's energies are stored */

enum { NOTES, PITCHES, FOUND, SURE, THINNED, LOWEST, BLOCKS, ENERGIES, STRETCHES, FIELDS };
enum {
    NOTE_FIGURES = 1 + PARTIALS_MOST,
    FOUND_FIGURES = 1 + 3 * TONE_DIPS,
    THINNED_FIGURES = 3,
    LOWEST_FIGURES = 2, /* the lowest note; 1 while a fresh start has not heard enough for a spectrum, else 0 */
    ENERGY_FIGURES = EVEN_ROWS * SPECTRUM_BANDS,
    STRETCH_FIGURES = 1 + HEARD_BEFORE_KEPT, /* how often they were thinned, then their hashes */
    SPECTRUM = 1,                            /* number of the group of fields that hold the spectrum */
};

_Static_assert(1u << NOTES == TONE_NOTES_FIELD, "the field of the pieces");

static void write_memory(const void *memory, Learned *learned);
static void read_memory(void *memory, const Learned *learned);

#define ROW(member) LEARNED_IN(ToneMemory, member, LEARNED_ROW)

/* Most changes leave these as they are. */
static const LearnedPart parts[] = {
    {&learned_nothing, .version = offsetof(ToneMemory, notes_version), .with = 1u << NOTES},
    {&learned_nothing, .version = offsetof(ToneMemory, spectrum_version), .with = 1u << BLOCKS | 1u << ENERGIES},
    {&learned_nothing, .version = offsetof(ToneMemory, stretches_version), .with = 1u << STRETCHES},
};

const LearnedSchema tone_schema = {
    .fields = FIELDS,
    .field = {[NOTES] = {"tone_notes", RESONANCE_PIECES *NOTE_FIGURES, -240.f, 1200.f, .kind = LEARNED_CODED},
              [PITCHES] = {"tone_pitches", RESONANCE_PITCHES, 0.f, 65535.f,
                           LEARNED_IN(ToneMemory, notes.held, LEARNED_COUNTS)},
              [FOUND] = {"tone_found", FOUND_FIGURES, 0.f, 4000.f, .kind = LEARNED_CODED},
              [SURE] = {"tone_sure", TONE_DIPS, 0.f, 1000.f, .kind = LEARNED_CODED},
              [THINNED] = {"tone_thinned", THINNED_FIGURES, 0.f, 65535.f, .kind = LEARNED_CODED},
              [LOWEST] = {"tone_lowest", LOWEST_FIGURES, 0.f, 1200.f, .kind = LEARNED_CODED},
              [BLOCKS] = {"tone_blocks", EVEN_FINE, 0.f, 65535.f, ROW(spectrum.blocks), .group = SPECTRUM},
              [ENERGIES] = {"tone_energies", ENERGY_FIGURES, 0.f, 65536.f, ROW(spectrum.energy), .unit = UNIT,
                            .group = SPECTRUM},
              [STRETCHES] = {"tone_stretches", STRETCH_FIGURES, 0.f, 65536.f, .kind = LEARNED_CODED}},
    .write = write_memory,
    .read = read_memory,
    .parts = sizeof parts / sizeof *parts,
    .part = parts,
};

/* ---- Learning ---- */

void tone_memory_stretched(ToneMemory *m)
{
    ++m->stretches_version;
    ++m->version;
}

void tone_memory_start_afresh(ToneMemory *m)
{
    resonance_memory_clear(&m->notes);
    m->stretches = (HeardStretches){0};
    m->next = (VoiceSpectrum){0};
    m->afresh = m->spectrum.count > 0;
    ++m->notes_version;
    tone_memory_stretched(m);
}

void tone_memory_reset(ToneMemory *m)
{
    memset(m->spectrum.rest, 0, sizeof m->spectrum.rest);
    m->next = (VoiceSpectrum){0};
}

static void follow_lowest_note(ToneMemory *m)
{
    const double note = resonance_lowest_note(&m->notes);
    if (note > 0.0 && resonance_voice_heard(&m->notes) >= TONE_NOTE_SURE)
        m->lowest_note = learned_round(note);
}

void tone_memory_add_piece(ToneMemory *m, const PartialsPiece *piece)
{
    resonance_memory_add(&m->notes, piece);
    follow_lowest_note(m);
    ++m->notes_version;
    ++m->version;
}

void tone_memory_hold(ToneMemory *m, const HeldFound *held)
{
    if (!held->frames)
        return;
    resonance_memory_hold(&m->notes, held);
    follow_lowest_note(m);
    ++m->version;
}

void tone_memory_add_block(ToneMemory *m, const double energy[SPECTRUM_BANDS])
{
    VoiceSpectrum *const filling = m->afresh ? &m->next : &m->spectrum;
    if (!m->notes.frames || !spectrum_add(filling, energy))
        return;
    if (m->afresh && m->next.count < SPECTRUM_ENOUGH)
        return;
    if (m->afresh)
        m->spectrum = m->next;
    m->afresh = false;
    ++m->spectrum_version;
    ++m->version;
}

/* First each resonance that has moved a little keeps its place; then the others fill the places that are free. */
static void place_findings(ToneMemory *m, const Resonances *r)
{
    bool placed[RESONANCE_MOST] = {false};
    for (uint32_t i = 0; i < TONE_DIPS; ++i) {
        const double was = m->found[i].hz;
        m->found[i] = (Resonance){0};
        for (uint32_t j = 0; j < r->count && was > 0.0; ++j) {
            if (placed[j] || fabs(log2(r->at[j].hz / was)) > TONE_FAR || m->found[i].hz > 0.0)
                continue;
            m->found[i] = r->at[j];
            placed[j] = true;
        }
    }
    for (uint32_t i = 0, j = 0; i < TONE_DIPS; ++i) {
        while (j < r->count && placed[j])
            ++j;
        if (m->found[i].hz == 0.0 && j < r->count)
            m->found[i] = r->at[j++];
    }
}

void tone_memory_conclude(ToneMemory *m, const Resonances *found)
{
    place_findings(m, found);
    for (uint32_t i = 0; i < TONE_DIPS; ++i)
        m->found[i] = (Resonance){learned_round(m->found[i].hz), learned_round(m->found[i].height),
                                  learned_round(m->found[i].width), learned_round(m->found[i].sure)};
    m->concluded = true;
    ++m->version;
}

/* ---- Storing ---- */

static void get_pieces(const ResonanceMemory *m, Learned *learned)
{
    float *to = learned_field(&tone_schema, learned, NOTES);
    learned->count[NOTES] = m->pieces ? m->pieces * NOTE_FIGURES : 1; /* a single figure stands for no pieces */
    to[0] = 0.f;
    for (uint32_t i = 0; i < m->pieces; ++i, to += NOTE_FIGURES) {
        const ResonancePiece *from = &m->piece[i];
        to[0] = from->hz;
        memcpy(to + 1, from->level, sizeof from->level);
        for (uint32_t k = from->count; k < PARTIALS_MOST; ++k)
            to[1 + k] = NO_LEVEL;
    }
}

static void get_notes(const ResonanceMemory *m, Learned *learned)
{
    if (!(learned->skipped & TONE_NOTES_FIELD))
        get_pieces(m, learned);
    float *thinned = learned_field(&tone_schema, learned, THINNED);
    learned->count[THINNED] = THINNED_FIGURES;
    thinned[0] = (float)m->thinned;
    thinned[1] = (float)m->skipped;
    thinned[2] = (float)m->frames;
}

static void get_found(const ToneMemory *m, Learned *learned)
{
    float *found = learned_field(&tone_schema, learned, FOUND);
    learned->count[FOUND] = FOUND_FIGURES;
    *found++ = m->concluded ? 1.f : 0.f;
    float *sure = learned_field(&tone_schema, learned, SURE);
    learned->count[SURE] = TONE_DIPS;
    for (uint32_t i = 0; i < TONE_DIPS; ++i) {
        *found++ = (float)m->found[i].hz;
        *found++ = (float)m->found[i].height;
        *found++ = (float)m->found[i].width;
        sure[i] = (float)m->found[i].sure;
    }
}

static void get_stretches(const HeardStretches *s, Learned *learned)
{
    float *to = learned_field(&tone_schema, learned, STRETCHES);
    learned->count[STRETCHES] = 1 + s->count;
    to[0] = (float)s->thinned;
    for (uint32_t i = 0; i < s->count; ++i)
        to[1 + i] = (float)(UNIT * s->hash[i]);
}

static void write_memory(const void *memory, Learned *learned)
{
    const ToneMemory *m = memory;
    float *lowest = learned_field(&tone_schema, learned, LOWEST);
    get_notes(&m->notes, learned);
    get_found(m, learned);
    if (!(learned->skipped & 1u << STRETCHES))
        get_stretches(&m->stretches, learned);
    learned->count[LOWEST] = LOWEST_FIGURES;
    lowest[0] = (float)m->lowest_note;
    lowest[1] = m->afresh ? 1.f : 0.f;
}

/* ---- Restoring ---- */

static const float *field_of(const Learned *learned, uint32_t field)
{
    return learned->value + learned_at(&tone_schema, field);
}

static bool whole(const Learned *learned, uint32_t field)
{
    return learned->count[field] == tone_schema.field[field].max;
}

/* A piece that makes no sense is left out. */
static void put_piece(ResonanceMemory *m, const float *from)
{
    ResonancePiece piece = {.hz = from[0]};
    while (piece.count < PARTIALS_MOST && from[1 + piece.count] > NO_LEVEL) {
        piece.level[piece.count] = from[1 + piece.count];
        ++piece.count;
    }
    if (from[0] >= (float)PITCH_LOWEST && from[0] <= (float)PITCH_HIGHEST && piece.count)
        m->piece[m->pieces++] = piece;
}

static Resonance sane(const float *figure, double sure)
{
    const Resonance r = {(double)figure[0], (double)figure[1], (double)figure[2], fmax(sure, RESONANCE_SURE)};
    const bool ok = r.hz >= 100.0 && r.height > 0.0 && r.height <= 48.0 && r.width >= 0.1 && r.width <= 3.0;
    return ok ? r : (Resonance){0};
}

/* States from versions that did not thin the memory lack these figures. All their pieces are there, and the time heard
 * follows from their pitches, which were counted in frames of 20 ms. */
static void put_thinned(ResonanceMemory *m, const float *thinned, bool there)
{
    const uint32_t by = there ? (uint32_t)thinned[0] : 0;
    m->thinned = by <= MOST_THINNED ? by : 0;
    m->skipped = there && thinned[1] < (float)(1u << m->thinned) ? (uint32_t)thinned[1] : 0;
    uint32_t frames = 0;
    for (uint32_t i = 0; i < RESONANCE_PITCHES; ++i)
        frames += m->held.count[i];
    m->frames = there ? (uint32_t)thinned[2] : frames < RESONANCE_FRAMES ? frames : RESONANCE_FRAMES;
}

static void put_notes(ResonanceMemory *m, const Learned *learned)
{
    const float *note = field_of(learned, NOTES);
    m->pieces = 0;
    for (uint32_t i = 0; i < learned->count[NOTES] / NOTE_FIGURES; ++i)
        put_piece(m, note + (size_t)i * NOTE_FIGURES);
    put_thinned(m, field_of(learned, THINNED), whole(learned, THINNED));
}

static void put_found(ToneMemory *m, const Learned *learned)
{
    const float *found = field_of(learned, FOUND), *sure = field_of(learned, SURE);
    m->concluded = whole(learned, FOUND) && found[0] > 0.f;
    for (uint32_t i = 0; i < TONE_DIPS; ++i) {
        const double odds = whole(learned, SURE) ? (double)sure[i] : 0.0;
        m->found[i] = whole(learned, FOUND) ? sane(found + 1 + (size_t)3 * i, odds) : (Resonance){0};
    }
}

/* The spectrum's rows were restored before. */
static void put_lowest(ToneMemory *m, const Learned *learned)
{
    const float *lowest = field_of(learned, LOWEST);
    const bool there = whole(learned, LOWEST);
    spectrum_recount(&m->spectrum);
    tone_memory_reset(m);
    m->afresh = m->spectrum.count && there && lowest[1] > 0.f;
    m->lowest_note = there && lowest[0] >= (float)PITCH_LOWEST ? (double)lowest[0] : 0.0;
    if (!there)
        follow_lowest_note(m);
}

static void put_stretches(HeardStretches *s, const Learned *learned)
{
    const float *from = field_of(learned, STRETCHES);
    const bool sane = learned->count[STRETCHES] && from[0] <= HEARD_BEFORE_MOST_THINNED;
    *s = (HeardStretches){.count = sane ? learned->count[STRETCHES] - 1 : 0, .thinned = sane ? (uint32_t)from[0] : 0};
    for (uint32_t i = 0; i < s->count; ++i)
        s->hash[i] = (uint32_t)((double)from[1 + i] / UNIT);
}

static void read_memory(void *memory, const Learned *learned)
{
    ToneMemory *m = memory;
    put_notes(&m->notes, learned);
    put_found(m, learned);
    put_stretches(&m->stretches, learned);
    put_lowest(m, learned);
    ++m->spectrum_version;
    ++m->notes_version;
    ++m->stretches_version;
}
