/* Hum: ports onto the processor. */
#include "hum_removal.h"
#include "hum-ports.h"

static void set(void *dsp, const float *control)
{
    const HumRemovalParams params = {
        .learn = control[HUM_LEARN] > 0.f,
        .hum_down = control[HUM_HUM_DOWN],
        .up_to = control[HUM_UP_TO],
        .listening = control[HUM_MAINS_SET_BY] > 0.f,
        .mains = control[HUM_MAINS] > 0.f ? 60.0 : 50.0,
        .hear_removed = control[HUM_HEAR_REMOVED] > 0.f,
    };
    hum.set(dsp, &params);
}

static void report(const void *dsp, float *meter)
{
    HumRemovalReport heard;
    processor_report(&hum, dsp, &heard);
    meter[HUM_FOUND_MAINS] = (float)heard.found_hz;
    meter[HUM_FOUND_LEVEL] = (float)heard.found_level;
    meter[HUM_VOICE_HEARD] = (float)heard.voice_heard;
    meter[HUM_MAINS_DRIFT] = (float)heard.drift;
    meter[HUM_TAKEN_NOW] = (float)heard.now_level;
    meter[HUM_TAKEN_IN_ALL] = (float)heard.in_all;
}

SHELL_PLUGIN(hum, HUM, .set = set, .report = report);
