/* Esses: ports onto the processor. */
#include "esses_params.h"

static void set(void *dsp, const float *control)
{
    const EssesParams params = esses_params(control);
    esses.set(dsp, &params);
}

static void report(const void *dsp, float *meter)
{
    EssesReport heard;
    processor_report(&esses, dsp, &heard);
    meter[ESSES_HEARD] = heard.sounding ? 1.f : 0.f;
    meter[ESSES_CUT] = (float)heard.cut;
    meter[ESSES_CAUGHT_SHARE] = (float)heard.caught_share;
    meter[ESSES_FOUND_CENTRE] = (float)heard.found_centre;
}

SHELL_PLUGIN(esses, ESSES, .set = set, .report = report);
