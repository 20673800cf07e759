#include "resonance_memory.h"

#include "learned.h"

#include <math.h>
#include <string.h>

#define FULL 65535 /* frames of a pitch */
#define HELD 6     /* frames: 120 ms, as Check has it */

void resonance_memory_clear(ResonanceMemory *m)
{
    memset(m, 0, sizeof *m);
}

static void count_pitch(ResonanceMemory *m, double hz, uint32_t frames)
{
    const double place = 24.0 * log2(hz / PITCH_LOWEST);
    uint32_t *const count = &m->pitch[(uint32_t)dsp_clamp(place, 0, RESONANCE_PITCHES - 1)];
    *count += frames;
    if (*count <= FULL)
        return;
    for (uint32_t i = 0; i < RESONANCE_PITCHES; ++i)
        m->pitch[i] /= 2;
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
    count_pitch(m, piece->hz, piece->frames);
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

double resonance_lowest_note(const ResonanceMemory *m)
{
    uint32_t all = 0;
    for (uint32_t i = 0; i < RESONANCE_PITCHES; ++i)
        all += m->pitch[i];
    const uint32_t least = all / 300 > HELD ? all / 300 : HELD;
    for (uint32_t i = 0; i + 2 < RESONANCE_PITCHES; ++i) {
        const uint32_t sum = m->pitch[i] + m->pitch[i + 1] + m->pitch[i + 2];
        if (sum < least)
            continue;
        const double mean = ((double)m->pitch[i + 1] + 2.0 * m->pitch[i + 2]) / sum;
        return PITCH_LOWEST * exp2((i + 0.5 + mean) / 24.0);
    }
    return 0.0;
}
