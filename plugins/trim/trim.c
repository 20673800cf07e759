/* Trim: ports onto the processor. */
#include "trim_params.h"

static void set(void *dsp, const float *control)
{
    const TrimParams params = trim_params(control);
    trim.set(dsp, &params);
}

static void report(const void *dsp, float *meter)
{
    TrimReport heard;
    processor_report(&trim, dsp, &heard);
    meter[TRIM_VOICE_LEVEL] = (float)heard.voice_level;
    meter[TRIM_GAIN] = (float)heard.gain;
    meter[TRIM_PEAK] = (float)heard.peak;
    meter[TRIM_CLIPPED] = (float)heard.clipped;
    meter[TRIM_IN_WINDOW] = heard.in_window ? 1.f : 0.f;
    meter[TRIM_HELD_BACK] = heard.held_back ? 1.f : 0.f;
    meter[TRIM_TURNED_DOWN] = (float)heard.turned_down;
}

SHELL_PLUGIN(trim, TRIM, .set = set, .report = report);
