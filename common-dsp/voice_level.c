#include "voice_level.h"

#include "units.h"

#include <string.h>

enum { BLOCK_HOPS = 4 };
#define RELATIVE_GATE 10.0 /* dB */

bool voice_level_init(VoiceLevel *v, double rate, uint32_t channels)
{
    memset(v, 0, sizeof *v);
    if (channels < 1 || channels > DSP_CHANNELS || !voice_init(&v->voice, rate))
        return false;
    v->channels = channels;
    v->hop = (uint32_t)(rate / 10.0 + 0.5);
    voice_level_reset(v);
    return true;
}

void voice_level_done(VoiceLevel *v)
{
    voice_done(&v->voice);
}

void voice_level_reset(VoiceLevel *v)
{
    voice_reset(&v->voice);
    memset(v->ring, 0, sizeof v->ring);
    v->at = 0;
    v->filled = v->judged = 0;
    v->answered = -(int64_t)voice_lag(&v->voice);
}

static VoiceHop *hop_at(VoiceLevel *v, uint64_t number)
{
    return &v->ring[number % VOICE_LEVEL_HOPS];
}

/* The block that ends with the hop just judged. */
static bool block_level(VoiceLevel *v, double *db)
{
    double power = 0.0;
    uint32_t asked = 0, sounding = 0;
    if (v->judged < BLOCK_HOPS)
        return false;
    for (uint64_t i = 1; i <= BLOCK_HOPS; ++i) {
        const VoiceHop *h = hop_at(v, v->judged - i);
        power += h->power;
        asked += h->asked;
        sounding += h->sounding;
    }
    *db = power_to_db(power / (BLOCK_HOPS * v->hop));
    return 4 * sounding >= asked;
}

bool voice_level_found(VoiceLevel *v, double *db)
{
    bool found = false;
    if (v->answered >= (int64_t)v->hop) {
        v->answered -= v->hop;
        ++v->judged;
        found = block_level(v, db);
    }
    if (v->answered >= 0) {
        VoiceHop *h = hop_at(v, v->judged);
        ++h->asked;
        h->sounding += voice_sounding(&v->voice);
    }
    v->answered += DSP_CELL;
    return found;
}

static void end_hop(VoiceLevel *v)
{
    ++v->filled;
    v->at = 0;
    *hop_at(v, v->filled) = (VoiceHop){0};
}

void voice_level_process(VoiceLevel *v, const float *const *in, uint32_t n)
{
    float mono[DSP_CELL];
    for (uint32_t t = 0; t < n; ++t) {
        VoiceHop *h = hop_at(v, v->filled);
        double power = 0.0;
        float sum = 0.f;
        for (uint32_t c = 0; c < v->channels; ++c) {
            const float x = in[c][t];
            power += (double)x * x;
            sum += x;
        }
        h->power += power / v->channels;
        mono[t] = sum / (float)v->channels;
        if (++v->at == v->hop)
            end_hop(v);
    }
    voice_process(&v->voice, mono, n);
}

void level_memory_add(LevelMemory *m, double db)
{
    if (db < LEVEL_MEMORY_LOW)
        return;
    const double bin = fmin((db - LEVEL_MEMORY_LOW) * LEVEL_MEMORY_STEP, LEVEL_MEMORY_BINS - 1);
    if (++m->count[(uint32_t)bin] <= LEVEL_MEMORY_MOST)
        return;
    for (uint32_t b = 0; b < LEVEL_MEMORY_BINS; ++b)
        m->count[b] /= 2;
}

uint32_t level_memory_blocks(const LevelMemory *m, uint32_t enough)
{
    uint32_t blocks = 0;
    for (uint32_t b = 0; b < LEVEL_MEMORY_BINS && blocks < enough; ++b)
        blocks += m->count[b];
    return blocks < enough ? blocks : enough;
}

/* Mean level of the bins at or above `gate` dB. */
static double mean_above(const LevelMemory *m, double gate)
{
    const double half = 0.5 / LEVEL_MEMORY_STEP, ratio = db_to_power(1.0 / LEVEL_MEMORY_STEP);
    const double from = ceil((gate - LEVEL_MEMORY_LOW) * LEVEL_MEMORY_STEP - 0.5);
    const uint32_t first = (uint32_t)dsp_clamp(from, 0.0, LEVEL_MEMORY_BINS - 1);
    double power = db_to_power(LEVEL_MEMORY_LOW + (double)first / LEVEL_MEMORY_STEP + half), blocks = 0.0, sum = 0.0;
    for (uint32_t b = first; b < LEVEL_MEMORY_BINS; ++b) {
        blocks += m->count[b];
        sum += m->count[b] * power;
        power *= ratio;
    }
    return blocks > 0.0 ? power_to_db(sum / blocks) : UNITS_DB_FLOOR;
}

double level_memory_level(const LevelMemory *m)
{
    const double mean = mean_above(m, LEVEL_MEMORY_LOW);
    return mean > UNITS_DB_FLOOR ? mean_above(m, mean - RELATIVE_GATE) : mean;
}
