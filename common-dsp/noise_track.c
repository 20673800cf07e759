#include "noise_track.h"

#include "units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Set on noise alone, no voice, and not searched one by one. */
#define LEAST_POWER     1e-20f   /* least power of a bin, as it is divided by */
#define POWER_SMOOTHING 0.05     /* s, time constant of a band's power */
#define LEAST_WINDOW    1.4      /* s, window of the least power */
#define LEAST_RISE      1.0      /* dB a second, fastest rise of a band's level */
#define MEAN_LONGEST    0.5      /* s of noise alone, most that a bin's mean goes back */
#define ENOUGH_NOISE    0.15     /* s of noise alone before a band is known */
#define SILENT_DENSITY  (-172.0) /* dB per Hz, less than this is silence: 28 dB under the noise of 16 bits */
#define GATE_OVER       1.0f     /* the gate is 1 + GATE_OVER + GATE_FEW_BINS / sqrt(bins) times a band's level */
#define GATE_FEW_BINS   4.0f     /* the second term is for bands of few bins, whose power varies more */
#define NO_NOISE_OVER   0.7f     /* a mean of which this share is over the gate was not of noise */

bool noise_track_init(NoiseTrack *t, double rate, uint32_t size, uint32_t hop)
{
    const double frames = rate / hop;
    *t = (NoiseTrack){
        .bins = size / 2 + 1,
        .density = 4.0 / (rate * size),
        .smoothing = (float)(1.0 - one_pole(POWER_SMOOTHING, frames)),
        .rise = (float)db_to_power(LEAST_RISE / frames),
        .part = (uint32_t)ceil(LEAST_WINDOW / NOISE_PARTS * frames),
        .slowest = (float)(MEAN_LONGEST * frames),
        .enough = (float)(ENOUGH_NOISE * frames),
    };
    t->silence = (float)(db_to_power(SILENT_DENSITY) / t->density);
    for (uint32_t b = 0; b < NOISE_BANDS && t->edge[b] < t->bins; ++b) {
        const double end = b + 1 < NOISE_BANDS ? ceil(noise_band_end(b) * size / rate) : t->bins;
        t->edge[b + 1] = end < t->bins ? (uint32_t)end : t->bins;
        t->bands = b + 1;
    }
    t->noise = calloc(t->bins, sizeof *t->noise);
    return t->noise;
}

void noise_track_done(NoiseTrack *t)
{
    free(t->noise);
    *t = (NoiseTrack){0};
}

void noise_track_start(NoiseTrack *t, const NoiseMemory *m)
{
    memset(t->band, 0, sizeof t->band);
    for (uint32_t b = 0; b < t->bands; ++b) {
        if (m->level[b] == NOISE_NONE)
            continue;
        const float power = (float)(db_to_power(noise_memory_level(m, b)) / t->density);
        for (uint32_t k = t->edge[b]; k < t->edge[b + 1]; ++k)
            t->noise[k] = power; /* over 0: the memory's lowest is far over LEAST_POWER */
        t->band[b] = (NoiseBand){.level = power, .mean = power, .quiet = t->enough, .known = true};
    }
}

static float mean_of(const float *x, uint32_t n)
{
    float sum = 0.f;
    for (uint32_t k = 0; k < n; ++k)
        sum += x[k];
    return sum / (float)n;
}

static uint32_t bins_of(const NoiseTrack *t, uint32_t band)
{
    return t->edge[band + 1] - t->edge[band];
}

/* The least power in the window; 0 until a whole window was heard. */
static float least_of(const NoiseBand *b)
{
    if (b->parts < NOISE_PARTS)
        return 0.f;
    float least = b->least[0];
    for (uint32_t i = 1; i < NOISE_PARTS; ++i)
        least = fminf(least, b->least[i]);
    return least;
}

static void watch_least(const NoiseTrack *t, NoiseBand *b)
{
    b->least[0] = b->heard == 0 ? b->smooth : fminf(b->least[0], b->smooth);
    if (++b->heard < t->part)
        return;
    b->heard = 0;
    b->parts += b->parts < NOISE_PARTS;
    for (uint32_t i = NOISE_PARTS - 1; i > 0; --i)
        b->least[i] = b->least[i - 1];
}

/* Moves the band's level to its least power: down at once, up slowly. */
static void watch_level(const NoiseTrack *t, NoiseBand *b)
{
    const float least = least_of(b), risen = b->level * t->rise;
    if (least > 0.f)
        b->level = b->level > 0.f && least > risen ? risen : least;
}

/* Restarts the mean where the frames in it were louder than the noise turns out to be. */
static void forget_what_was_louder(NoiseBand *b, float gate)
{
    if (NO_NOISE_OVER * b->mean > gate)
        b->quiet = 0.f;
}

static void take_in(NoiseTrack *t, uint32_t band, const float *power)
{
    NoiseBand *b = &t->band[band];
    b->quiet = fminf(b->quiet + 1.f, t->slowest);
    const float part = 1.f / b->quiet, rest = 1.f - part; /* 0 when a mean begins: nothing older is left in it */
    float *noise = t->noise + t->edge[band];
    for (uint32_t k = 0; k < bins_of(t, band); ++k)
        noise[k] = fmaxf(rest * noise[k] + part * power[k], LEAST_POWER);
    b->mean = mean_of(noise, bins_of(t, band));
    b->known = b->known || b->quiet >= t->enough;
}

void noise_track_hear(NoiseTrack *t, uint32_t band, const float *power, float most)
{
    NoiseBand *b = &t->band[band];
    const float now = mean_of(power, bins_of(t, band));
    if (now < t->silence)
        return;
    b->smooth = b->smooth > 0.f ? b->smooth + t->smoothing * (now - b->smooth) : now;
    watch_least(t, b);
    watch_level(t, b);
    b->level = fminf(b->level, most / (float)t->density);
    const float gate = b->level * (1.f + GATE_OVER + GATE_FEW_BINS / sqrtf((float)bins_of(t, band)));
    forget_what_was_louder(b, gate);
    if (now < gate && b->smooth < gate)
        take_in(t, band, power);
}

double noise_track_level(const NoiseTrack *t, uint32_t band)
{
    return power_to_db(t->density * (double)t->band[band].mean);
}
