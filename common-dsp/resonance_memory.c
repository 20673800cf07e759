#include "resonance_memory.h"

#include "learned.h"
#include "units.h"

#include <string.h>

/* MIDI note of PITCH_LOWEST, from which half semitones are counted. */
#define LOWEST 34.5063726

static const TallyScale scale = {LOWEST, 0.5, RESONANCE_PITCHES};

void resonance_memory_clear(ResonanceMemory *m)
{
    memset(m, 0, sizeof *m);
}

static void drop_every_second(ResonanceMemory *m)
{
    uint32_t kept = 0;
    for (uint32_t i = 0; i < m->pieces; i += 2)
        m->piece[kept++] = m->piece[i];
    m->pieces = kept;
    ++m->thinned;
}

static void keep_piece(ResonanceMemory *m, const PartialsPiece *piece)
{
    if (m->pieces == RESONANCE_PIECES)
        drop_every_second(m);
    ResonancePiece *const to = &m->piece[m->pieces++];
    *to = (ResonancePiece){.hz = (float)learned_round(piece->hz), .count = piece->count};
    for (uint32_t k = 0; k < piece->count; ++k)
        to->level[k] = (float)learned_round(piece->level[k]);
}

void resonance_memory_add(ResonanceMemory *m, const PartialsPiece *piece)
{
    m->frames = m->frames + piece->frames < RESONANCE_FRAMES ? m->frames + piece->frames : RESONANCE_FRAMES;
    if (m->pieces && ++m->skipped < 1u << m->thinned)
        return;
    m->skipped = 0;
    keep_piece(m, piece);
}

double resonance_voice_heard(const ResonanceMemory *m)
{
    return RESONANCE_FRAME * m->frames;
}

void resonance_memory_hold(ResonanceMemory *m, const HeldFound *held)
{
    for (uint32_t i = 0; i < held->frames; ++i)
        tally_add(&m->held, &scale, held->note[i]);
}

double resonance_lowest_note(const ResonanceMemory *m)
{
    const double note = held_spared(&m->held, &scale);
    return note > 0.0 ? note_to_hz(note) : 0.0;
}
