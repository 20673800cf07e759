/* Rests: ports onto the processor. */
#include "rests-ports.h"
#include "rests_down.h"

static void set(void *dsp, const float *control)
{
    const RestsParams params = {
        .noise_down = control[RESTS_NOISE_DOWN],
        .breath_down = control[RESTS_BREATH_DOWN],
        .sound_over = control[RESTS_SOUND_OVER],
        .closing = control[RESTS_CLOSING],
        .learn = control[RESTS_LEARN] > 0.f,
        .hear_removed = control[RESTS_HEAR_REMOVED] > 0.f,
    };
    rests.set(dsp, &params);
}

static void report(const void *dsp, float *meter)
{
    RestsReport heard;
    processor_report(&rests, dsp, &heard);
    meter[RESTS_VOICE_LEVEL] = (float)heard.voice_level;
    meter[RESTS_NOISE_LEVEL] = (float)heard.noise_level;
    meter[RESTS_RESTING] = heard.resting ? 1.f : 0.f;
    meter[RESTS_DOWN] = (float)heard.down;
    meter[RESTS_AT_REST] = (float)heard.at_rest;
}

SHELL_PLUGIN(rests, RESTS, .set = set, .report = report);
