/* Pops: ports onto the processor. */
#include "pop_taming.h"
#include "pops-ports.h"

static void set(void *dsp, const float *control)
{
    const PopTamingParams params = {
        .learn = control[POPS_LEARN] > 0.f,
        .down = control[POPS_POPS_DOWN],
        .from = control[POPS_COUNTS_FROM],
        .up_to = control[POPS_UP_TO],
        .hear_removed = control[POPS_HEAR_REMOVED] > 0.f,
    };
    pops.set(dsp, &params);
}

static void report(const void *dsp, float *meter)
{
    PopTamingReport heard;
    processor_report(&pops, dsp, &heard);
    meter[POPS_VOICE_LEVEL] = (float)heard.voice_level;
    meter[POPS_FOUND] = (float)heard.found;
    meter[POPS_CUT] = (float)heard.cut;
    meter[POPS_CAUGHT] = (float)heard.caught;
}

SHELL_PLUGIN(pops, POPS, .set = set, .report = report);
