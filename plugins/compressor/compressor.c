/* Compressor: ports onto the processor. */
#include "compressor.h"
#include "compressor-ports.h"

static void set(void *dsp, const float *control)
{
    const CompressorParams params = {
        .wanted = control[COMPRESSOR_THRESHOLD_SET_BY] > 0.f,
        .threshold = control[COMPRESSOR_THRESHOLD],
        .wanted_reduction = control[COMPRESSOR_WANTED_REDUCTION],
        .learn = control[COMPRESSOR_LEARN] > 0.f,
        .ratio = control[COMPRESSOR_RATIO],
        .attack = control[COMPRESSOR_ATTACK],
        .release = control[COMPRESSOR_RELEASE],
        .knee = control[COMPRESSOR_KNEE],
        .look_ahead = control[COMPRESSOR_LOOK_AHEAD],
        .detector_low_cut = control[COMPRESSOR_DETECTOR_LOW_CUT],
        .makeup = control[COMPRESSOR_MAKEUP],
        .even_loudness = control[COMPRESSOR_EVEN_LOUDNESS] > 0.f,
        .blend = control[COMPRESSOR_BLEND],
    };
    compressor_set(dsp, &params);
}

static void report(const void *dsp, float *meter)
{
    CompressorReport done;
    compressor_report(dsp, &done);
    meter[COMPRESSOR_REDUCTION] = (float)done.reduction;
    meter[COMPRESSOR_USUAL_REDUCTION] = (float)done.usual_reduction;
    meter[COMPRESSOR_THRESHOLD_NOW] = (float)done.threshold_now;
    meter[COMPRESSOR_MAKEUP_NOW] = (float)done.makeup_now;
}

SHELL_PROCESSOR(Compressor, compressor)
SHELL_LATENCY(Compressor, compressor)
SHELL_LEARNED(Compressor, compressor)

const ShellPlugin shell_plugin = {
    .variant = compressor_variant,
    .port = compressor_port,
    .ports = COMPRESSOR_PORTS,
    .size = sizeof(Compressor),
    .init = compressor_shell_init,
    .done = compressor_shell_done,
    .reset = compressor_shell_reset,
    .set = set,
    .process = compressor_shell_process,
    .report = report,
    .latency = compressor_shell_latency,
    .schema = &compressor_schema,
    .learned_version = compressor_shell_learned_version,
    .learned_get = compressor_shell_learned_get,
    .learned_put = compressor_shell_learned_put,
};

SHELL_DESCRIPTORS(COMPRESSOR_URI, COMPRESSOR_STEREO_URI);
