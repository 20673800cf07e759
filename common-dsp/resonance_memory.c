#include "resonance_memory.h"

#include "learned.h"

#include <math.h>
#include <string.h>

#define FULL  65535 /* frames of a pitch */
#define HELD  6.0   /* frames: 120 ms, as Check has it */
#define SHARE (1.0 / 300.0)

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

/* Three neighbouring pitches from the i-th on are looked at together: the first that are enough give the note. Those
 * just below count for as much of it as they are near to being enough, so that one frame more or less moves it by
 * little. */
double resonance_lowest_note(const ResonanceMemory *m)
{
    double all = 0.0, place = 0.0, near = 0.0;
    for (uint32_t i = 0; i < RESONANCE_PITCHES; ++i)
        all += m->pitch[i];
    const double least = fmax(SHARE * all, HELD);
    for (uint32_t i = 0; i + 2 < RESONANCE_PITCHES; ++i) {
        const double sum = (double)m->pitch[i] + m->pitch[i + 1] + m->pitch[i + 2];
        const double mean = (m->pitch[i + 1] + 2.0 * m->pitch[i + 2]) / fmax(sum, 1.0);
        place += (1.0 - near) * (i + 0.5 + mean - place);
        if (sum >= least)
            return PITCH_LOWEST * exp2(place / 24.0);
        near = sum / least;
    }
    return 0.0;
}
