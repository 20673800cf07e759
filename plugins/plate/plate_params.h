/* What Plate's ports say, as the processor takes it: for Plate by itself, and for Chain. */
#ifndef LINCTUS_PLATE_PARAMS_H
#define LINCTUS_PLATE_PARAMS_H

#include "plate.h"
#include "plate-ports.h"

/* control: a value for every port of Plate, by index, in its range. */
static inline PlateParams plate_params(const float *control)
{
    return (PlateParams){
        .pre_delay = control[PLATE_PRE_DELAY],
        .decay = control[PLATE_DECAY],
        .low_cut = control[PLATE_LOW_CUT],
        .damping = control[PLATE_DAMPING],
        .wet = control[PLATE_WET],
        .dry = control[PLATE_DRY],
        .width = control[PLATE_WIDTH],
    };
}

#endif
