/* Plate: ports onto the processor. */
#include "plate_params.h"

static void set(void *dsp, const float *control)
{
    const PlateParams params = plate_params(control);
    plate.set(dsp, &params);
}

/* On a send, with the dry sound silent, passing the input in bypass would double the voice. */
static bool bypass_is_silent(const float *control)
{
    return control[PLATE_DRY] <= plate_port[PLATE_DRY].lowest;
}

SHELL_PLUGIN(plate, PLATE, .set = set, .bypass_is_silent = bypass_is_silent);
