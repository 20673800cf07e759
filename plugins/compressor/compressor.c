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
    compressor.set(dsp, &params);
}

static void report(const void *dsp, float *meter)
{
    CompressorReport done;
    compressor.report(dsp, &done);
    meter[COMPRESSOR_REDUCTION] = (float)done.reduction;
    meter[COMPRESSOR_USUAL_REDUCTION] = (float)done.usual_reduction;
    meter[COMPRESSOR_THRESHOLD_NOW] = (float)done.threshold_now;
    meter[COMPRESSOR_MAKEUP_NOW] = (float)done.makeup_now;
}

SHELL_PLUGIN(compressor, COMPRESSOR, .set = set, .report = report);
