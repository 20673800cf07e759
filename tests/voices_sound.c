/* What of voices.h needs no package and no sound file. */
#include "voices.h"

#include "design.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define APART     0.6   /* octaves between bells */
#define BELL_LOW  180.0 /* Hz */
#define BELL_HIGH 1200.0

/* 8 kHz recordings are of telephone quality. The pitch ranges were read off the recordings, with room. */
const VoicesVoice voices[VOICES_ALL] = {
    {"english", "a man says words at home, English, 50 Hz hum", VOICES_TUNE, 70, 75, 300},
    {"french", "a man says words at home, French", VOICES_TUNE, 240, 75, 350},
    {"tux", "a high voice says Danish words", VOICES_TUNE, 70, 150, 600},
    {"prompts", "Italian telephone prompts, clean", VOICES_TUNE, 700, 75, 400},
    {"awb", "flite: a Scotsman", VOICES_TUNE, 60, 75, 300},
    {"slt", "flite: an American woman", VOICES_TUNE, 60, 100, 400},
    {"reading", "a low voice reads English", VOICES_JUDGE, 28, 60, 300},
    {"german", "a man says words at home, German", VOICES_JUDGE, 70, 75, 300},
    {"danish", "a man says words at home, Danish", VOICES_JUDGE, 240, 75, 300},
    {"fish", "an actor speaks Dutch in a live room", VOICES_JUDGE, 1000, 75, 400},
    {"rms", "flite: an American man", VOICES_JUDGE, 60, 60, 250},
    {"kal", "flite: another American man", VOICES_JUDGE, 60, 60, 250},
    {"cards", "a man calls playing cards", VOICES_TUNE, 11, 75, 300},
    {"italian", "words, 8 kHz", VOICES_TUNE, 15, 100, 500},
    {"numbers", "a man says numbers and commands", VOICES_JUDGE, 11, 75, 300},
    {"dutch", "words, 8 kHz", VOICES_JUDGE, 15, 100, 600},
    {"spanish", "words, 8 kHz", VOICES_JUDGE, 15, 75, 400},
};

void voices_half(Spoken *half, const Spoken *take, uint32_t which)
{
    const uint32_t middle = take->n / 2;
    *half = (Spoken){.rate = take->rate};
    half->n = which ? take->n - middle : middle;
    half->x = malloc((half->n + 1) * sizeof *half->x);
    assert_non_null(half->x);
    memcpy(half->x, take->x + (which ? middle : 0), half->n * sizeof *half->x);
}

static double dice(uint32_t *state)
{
    *state = *state * 1664525u + 1013904223u;
    return (double)(*state >> 8) / 16777216.0;
}

void voices_bells(VoicesBell bell[VOICES_BELLS], uint32_t count, uint32_t seed)
{
    uint32_t state = seed * 2654435761u + 17;
    dice(&state);
    assert_true(count <= VOICES_BELLS);
    for (uint32_t n = 0; n < count;) {
        const double hz = BELL_LOW * pow(BELL_HIGH / BELL_LOW, dice(&state));
        const VoicesBell b = {hz, 4.0 + 5.0 * dice(&state), 2.0 + 4.0 * dice(&state)};
        bool apart = true;
        for (uint32_t i = 0; i < n; ++i)
            apart = apart && fabs(log2(b.hz / bell[i].hz)) >= APART;
        if (apart)
            bell[n++] = b;
    }
}

void voices_plant(Spoken *take, const VoicesBell *bell, uint32_t count)
{
    for (uint32_t b = 0; b < count; ++b) {
        const Biquad section = design_bell(bell[b].hz, bell[b].db, bell[b].q, take->rate);
        const Svf filter = svf_from_biquad(&section);
        SvfState state = {0};
        for (uint32_t i = 0; i < take->n; ++i)
            take->x[i] = (float)svf_step(&filter, &state, (double)take->x[i]);
    }
}

void voices_gain(Spoken *take, double db)
{
    const float gain = (float)pow(10.0, db / 20.0);
    for (uint32_t i = 0; i < take->n; ++i)
        take->x[i] *= gain;
}
