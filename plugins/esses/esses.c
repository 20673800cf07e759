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
    esses.set(dsp, &params);
}

static void report(const void *dsp, float *meter)
{
    EssesReport heard;
    esses.report(dsp, &heard);
    meter[ESSES_HEARD] = heard.sounding ? 1.f : 0.f;
    meter[ESSES_CUT] = (float)heard.cut;
    meter[ESSES_CAUGHT_SHARE] = (float)heard.caught_share;
    meter[ESSES_FOUND_CENTRE] = (float)heard.found_centre;
}

SHELL_PLUGIN(esses, ESSES, .set = set, .report = report);
