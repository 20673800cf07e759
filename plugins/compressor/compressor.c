/* Compressor: ports onto the processor. */
#include "compressor_params.h"

static void set(void *dsp, const float *control)
{
    const CompressorParams params = compressor_params(control);
    compressor.set(dsp, &params);
}

static void report(const void *dsp, float *meter)
{
    CompressorReport done;
    processor_report(&compressor, dsp, &done);
    meter[COMPRESSOR_REDUCTION] = (float)done.reduction;
    meter[COMPRESSOR_USUAL_REDUCTION] = (float)done.usual_reduction;
    meter[COMPRESSOR_THRESHOLD_NOW] = (float)done.threshold_now;
    meter[COMPRESSOR_MAKEUP_NOW] = (float)done.makeup_now;
}

SHELL_PLUGIN(compressor, COMPRESSOR, .set = set, .report = report);
