/* Plate: ports onto the processor. */
#include "plate.h"
#include "plate-ports.h"

static void set(void *dsp, const float *control)
{
    const PlateParams params = {
        .pre_delay = control[PLATE_PRE_DELAY],
        .decay = control[PLATE_DECAY],
        .low_cut = control[PLATE_LOW_CUT],
        .damping = control[PLATE_DAMPING],
        .wet = control[PLATE_WET],
        .dry = control[PLATE_DRY],
        .width = control[PLATE_WIDTH],
    };
    plate.set(dsp, &params);
}

/* On a send, with the dry sound silent, passing the input in bypass would double the voice. */
static bool bypass_is_silent(const float *control)
{
    return control[PLATE_DRY] <= plate_port[PLATE_DRY].lowest;
}

SHELL_PLUGIN(plate, PLATE, .set = set, .bypass_is_silent = bypass_is_silent);
