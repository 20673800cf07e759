/* Booth: ports onto the processor. */
#include "booth.h"
#include "booth-ports.h"

static void set(void *dsp, const float *control)
{
    const BoothParams params = {
        .down_by = control[BOOTH_ROOM_DOWN],
        .from = 1e-3 * (double)control[BOOTH_LATE_FROM],
        .counts_up_to = control[BOOTH_COUNTS_UP_TO],
        .even_loudness = control[BOOTH_EVEN_LOUDNESS] > 0.f,
        .learn = control[BOOTH_LEARN] > 0.f,
        .hear_removed = control[BOOTH_HEAR_REMOVED] > 0.f,
    };
    booth.set(dsp, &params);
}

static void report(const void *dsp, float *meter)
{
    BoothReport heard;
    processor_report(&booth, dsp, &heard);
    meter[BOOTH_FOUND_DECAY] = (float)heard.decay;
    meter[BOOTH_LATE_LEVEL] = (float)heard.late;
    meter[BOOTH_WORD_ENDS] = (float)heard.falls;
    meter[BOOTH_DOWN_NOW] = (float)heard.down;
    meter[BOOTH_MAKEUP_NOW] = (float)heard.makeup;
    meter[BOOTH_REMOVED] = (float)heard.removed;
}

SHELL_PLUGIN(booth, BOOTH, .set = set, .report = report);
