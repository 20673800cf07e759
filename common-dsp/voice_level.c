#include "voice_level.h"

#include "units.h"

#include <string.h>

enum {
    BLOCK_HOPS = 4,
    BLOCK_FRAMES = BLOCK_HOPS * VOICE_LEVEL_FRAMES,
    AROUND = BLOCK_HOPS + 2 * VOICE_LEVEL_NEAR, /* hops in which a voice has to sound */
    THUMP = 3,                                  /* frames that a thump of under 20 ms can reach into */
};
#define NEAR_SHARE    0.5  /* of a hop: a voice sounds near a block */
#define HOP_SHARE     0.3  /* in a hop */
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
    v->at = v->frame = 0;
    v->ends_at = v->hop / VOICE_LEVEL_FRAMES;
    v->filled = v->judged = 0;
    v->complete = false;
    v->answered = -(int64_t)voice_lag(&v->voice);
}

static VoiceHop *hop_at(VoiceLevel *v, uint64_t number)
{
    return &v->ring[number % VOICE_LEVEL_HOPS];
}

static bool sounds_for(const VoiceLevel *v, uint32_t cells, double share)
{
    return cells * (double)DSP_CELL >= share * v->hop;
}

static bool voice_near(VoiceLevel *v)
{
    uint32_t sounding = 0;
    for (uint64_t i = 1; i <= AROUND && i <= v->judged; ++i)
        sounding += hop_at(v, v->judged - i)->sounding;
    return sounds_for(v, sounding, NEAR_SHARE);
}

/* strongest: in order, the strongest first. */
static void keep_strongest(double *strongest, double power)
{
    for (int i = 0; i <= THUMP; ++i)
        if (power > strongest[i]) {
            const double less = strongest[i];
            strongest[i] = power;
            power = less;
        }
}

/* What the frames hold, but for what stands out of them. */
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

/* The block that ended VOICE_LEVEL_NEAR hops before the hop just judged. */
static bool block_level(VoiceLevel *v, double *db)
{
    if (v->judged < BLOCK_HOPS + VOICE_LEVEL_NEAR || !voice_near(v))
        return false;
    double power[BLOCK_FRAMES];
    for (uint64_t i = 0; i < BLOCK_HOPS; ++i) {
        const VoiceHop *h = hop_at(v, v->judged - VOICE_LEVEL_NEAR - BLOCK_HOPS + i);
        memcpy(power + i * VOICE_LEVEL_FRAMES, h->power, sizeof h->power);
    }
    *db = power_to_db(without_thumps(power) / (BLOCK_HOPS * v->hop));
    return true;
}

bool voice_level_found(VoiceLevel *v, double *db)
{
    bool found = false;
    v->complete = v->answered >= (int64_t)v->hop;
    if (v->complete) {
        v->answered -= v->hop;
        ++v->judged;
        found = block_level(v, db);
    }
    if (v->answered >= 0)
        hop_at(v, v->judged)->sounding += voice_sounding(&v->voice);
    v->answered += DSP_CELL;
    return found;
}

void voice_level_peak(VoiceLevel *v, float peak)
{
    float *highest = &hop_at(v, v->filled)->peak[v->frame];
    *highest = peak > *highest ? peak : *highest;
}

const float *voice_level_peaks(VoiceLevel *v)
{
    if (!v->complete)
        return NULL;
    const VoiceHop *h = hop_at(v, v->judged - 1);
    return sounds_for(v, h->sounding, HOP_SHARE) ? h->peak : NULL;
}

static void end_hop(VoiceLevel *v)
{
    ++v->filled;
    v->at = v->frame = 0;
    *hop_at(v, v->filled) = (VoiceHop){0};
}

static void end_frame(VoiceLevel *v)
{
    ++v->frame;
    if (v->at == v->hop)
        end_hop(v);
    v->ends_at = v->hop * (v->frame + 1) / VOICE_LEVEL_FRAMES;
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
        h->power[v->frame] += power / v->channels;
        mono[t] = sum / (float)v->channels;
        if (++v->at == v->ends_at)
            end_frame(v);
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
