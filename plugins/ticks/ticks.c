/* Ticks: ports onto the processor. */
#include "ticks.h"
#include "ticks-ports.h"

static void set(void *dsp, const float *control)
{
    const TicksParams params = {
        .learn = control[TICKS_LEARN] > 0.f,
        .down = control[TICKS_TICKS_DOWN],
        .from = control[TICKS_COUNTS_FROM],
        .faintest = control[TICKS_FAINTEST],
        .longest = control[TICKS_LONGEST],
        .hear_removed = control[TICKS_HEAR_REMOVED] > 0.f,
    };
    ticks.set(dsp, &params);
}

static void report(const void *dsp, float *meter)
{
    TicksReport heard;
    processor_report(&ticks, dsp, &heard);
    meter[TICKS_VOICE_LEVEL] = (float)heard.voice_level;
    meter[TICKS_FOUND] = (float)heard.found;
    meter[TICKS_NOW] = heard.now ? 1.f : 0.f;
    meter[TICKS_REMOVED] = (float)heard.removed;
    meter[TICKS_LAST_SIZE] = (float)heard.last_size;
    meter[TICKS_LAST_AGO] = (float)heard.last_ago;
}

SHELL_PLUGIN(ticks, TICKS, .set = set, .report = report);
