/* Esses: ports onto the processor. */
#include "esses.h"
#include "esses-ports.h"

static void set(void *dsp, const float *control)
{
    const EssesParams params = {
        .centre = control[ESSES_CENTRE],
        .listening = control[ESSES_CENTRE_SET_BY] > 0.f,
        .width = control[ESSES_WIDTH],
        .learn = control[ESSES_LEARN] > 0.f,
        .catch_above = control[ESSES_CATCH_ABOVE],
        .most_cut = control[ESSES_MOST_CUT],
        .hear_caught = control[ESSES_HEAR_CAUGHT] > 0.f,
    };
    esses_set(dsp, &params);
}

static void report(const void *dsp, float *meter)
{
    EssesReport heard;
    esses_report(dsp, &heard);
    meter[ESSES_HEARD] = heard.sounding ? 1.f : 0.f;
    meter[ESSES_CUT] = (float)heard.cut;
    meter[ESSES_CAUGHT_SHARE] = (float)heard.caught_share;
    meter[ESSES_FOUND_CENTRE] = (float)heard.found_centre;
}

SHELL_PROCESSOR(Esses, esses)
SHELL_LATENCY(Esses, esses)
SHELL_LEARNED(Esses, esses)

const ShellPlugin shell_plugin = {
    .variant = esses_variant,
    .port = esses_port,
    .ports = ESSES_PORTS,
    .size = sizeof(Esses),
    .init = esses_shell_init,
    .done = esses_shell_done,
    .reset = esses_shell_reset,
    .set = set,
    .process = esses_shell_process,
    .report = report,
    .latency = esses_shell_latency,
    .schema = &esses_schema,
    .learned_version = esses_shell_learned_version,
    .learned_get = esses_shell_learned_get,
    .learned_put = esses_shell_learned_put,
};

SHELL_DESCRIPTORS(ESSES_URI, ESSES_STEREO_URI);
