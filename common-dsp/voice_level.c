#include "voice_level.h"

#include "units.h"

#include <math.h>
#include <string.h>

enum {
    BLOCK_HOPS = 4, /* of 100 ms, in a block */
    BLOCK_FRAMES = BLOCK_HOPS * VOICE_LEVEL_FRAMES,
    AROUND = BLOCK_HOPS + 2 * VOICE_LEVEL_NEAR, /* hops of a block and around it, in which a voice has to sound */
    THUMP = 3,                                  /* frames that a thump of under 20 ms can touch */
};
#define NEAR_SHARE    0.5  /* of a hop's length: a voice has to sound this long in or near a block */
#define HOP_SHARE     0.3  /* of a hop's length: a voice has to sound this long in a hop for its peaks to count */
#define RELATIVE_GATE 10.0 /* dB under the mean level: quieter blocks do not count */

static VoiceHop *hop_at(VoiceLevel *v, uint64_t number)
{
    return &v->ring[number % VOICE_LEVEL_HOPS];
}

static bool sounds_for(uint32_t cells, double share, uint32_t hop)
{
    return cells * (double)DSP_CELL >= share * hop;
}

static bool voice_near(VoiceLevel *v, uint32_t hop)
{
    uint32_t sounding = 0;
    for (uint64_t i = 1; i <= AROUND && i <= v->hops; ++i)
        sounding += hop_at(v, v->hops - i)->sounding;
    return sounds_for(sounding, NEAR_SHARE, hop);
}

/* Sorts a power into the THUMP + 1 strongest, the strongest first. */
static void keep_strongest(double *strongest, double power)
{
    for (int i = 0; i <= THUMP; ++i)
        if (power > strongest[i]) {
            const double less = strongest[i];
            strongest[i] = power;
            power = less;
        }
}

/* Sum of the frames' powers, with frames that stand out from the others limited. */
static double without_thumps(const double *power)
{
    double strongest[THUMP + 1] = {0}, sum = 0.0;
    for (int i = 0; i < BLOCK_FRAMES; ++i)
        keep_strongest(strongest, power[i]);
    const double most = VOICE_LEVEL_STANDS_OUT * strongest[THUMP];
    for (int i = 0; i < BLOCK_FRAMES; ++i)
        sum += fmin(power[i], most);
    return sum;
}

/* dB, of the block that ended VOICE_LEVEL_NEAR hops before the last one did. */
static double block_level(VoiceLevel *v, uint32_t hop)
{
    double power[BLOCK_FRAMES], sum[DSP_CHANNELS] = {0}, direct = 0.0;
    const double samples = (double)BLOCK_HOPS * hop;
    for (uint64_t i = 0; i < BLOCK_HOPS; ++i) {
        const VoiceHop *h = hop_at(v, v->hops - VOICE_LEVEL_NEAR - BLOCK_HOPS + i);
        memcpy(power + i * VOICE_LEVEL_FRAMES, h->power, sizeof h->power);
        for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
            sum[c] += (double)h->sum[c];
    }
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        direct += sum[c] * sum[c] / (DSP_CHANNELS * samples);
    return power_to_db((without_thumps(power) - direct) / samples);
}

static VoiceLevelFound end_hop(VoiceLevel *v, uint32_t hop)
{
    const VoiceHop *ended = hop_at(v, v->hops++);
    VoiceLevelFound found = {.peak = sounds_for(ended->sounding, HOP_SHARE, hop) ? ended->peak : NULL};
    found.block = v->hops >= BLOCK_HOPS + VOICE_LEVEL_NEAR && voice_near(v, hop);
    if (found.block)
        found.db = block_level(v, hop);
    *hop_at(v, v->hops) = (VoiceHop){0};
    v->frames = 0;
    return found;
}

VoiceLevelFound voice_level_hear(VoiceLevel *v, const ListeningFrame *frame, uint32_t hop)
{
    VoiceHop *h = hop_at(v, v->hops);
    h->power[v->frames] = frame->power;
    h->peak[v->frames] = frame->peak;
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        h->sum[c] += frame->sum[c];
    h->sounding += frame->sounding;
    return ++v->frames == VOICE_LEVEL_FRAMES ? end_hop(v, hop) : (VoiceLevelFound){.block = false};
}

/* ---- All levels found so far ---- */

const TallyScale level_memory_scale = {LEVEL_MEMORY_LOW, 1.0 / LEVEL_MEMORY_STEP, LEVEL_MEMORY_BINS};

void level_memory_add(Tally *m, double db)
{
    if (db >= LEVEL_MEMORY_LOW)
        tally_add(m, &level_memory_scale, db);
}

bool level_memory_has(const Tally *m, uint32_t blocks)
{
    return tally_total(m, &level_memory_scale) >= blocks;
}

double level_memory_level(const Tally *m)
{
    const double mean = tally_mean_db(m, &level_memory_scale, LEVEL_MEMORY_LOW, HUGE_VAL);
    return mean > UNITS_DB_FLOOR ? tally_mean_db(m, &level_memory_scale, mean - RELATIVE_GATE, HUGE_VAL) : mean;
}
