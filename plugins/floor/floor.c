/* Floor: ports onto the processor, which is called noise_floor because C has a floor() of its own. */
#include "noise_floor.h"
#include "floor-ports.h"

static void set(void *dsp, const float *control)
{
    const NoiseFloorParams params = {
        .down_by = control[FLOOR_NOISE_DOWN],
        .counts_up_to = control[FLOOR_COUNTS_UP_TO],
        .works_from = control[FLOOR_WORKS_FROM],
        .learn = control[FLOOR_LEARN] > 0.f,
        .hear_removed = control[FLOOR_HEAR_REMOVED] > 0.f,
    };
    noise_floor.set(dsp, &params);
}

static void report(const void *dsp, float *meter)
{
    NoiseFloorReport heard;
    processor_report(&noise_floor, dsp, &heard);
    meter[FLOOR_NOISE_NOW] = (float)heard.noise;
    meter[FLOOR_NOISE_HEARD] = (float)heard.heard;
    meter[FLOOR_DOWN_NOW] = (float)heard.down;
    meter[FLOOR_REMOVED] = (float)heard.removed;
}

/* SHELL_PLUGIN() written out: the processor has another name than the plug-in. */
const ShellPlugin shell_plugin = {.processor = &noise_floor,
                                  .variant = floor_variant,
                                  .port = floor_port,
                                  .ports = FLOOR_PORTS,
                                  .set = set,
                                  .report = report};
SHELL_DESCRIPTORS(FLOOR_URI, FLOOR_STEREO_URI);
