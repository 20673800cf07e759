/* What Trim's ports say, as the processor takes it: for Trim by itself, and for Chain. */
#ifndef LINCTUS_TRIM_PARAMS_H
#define LINCTUS_TRIM_PARAMS_H

#include "trim.h"
#include "trim-ports.h"

/* control: a value for every port of Trim, by index, in its range. */
static inline TrimParams trim_params(const float *control)
{
    return (TrimParams){
        .target = control[TRIM_TARGET],
        .learn = control[TRIM_LEARN] > 0.f,
        .hand_trim = control[TRIM_HAND_TRIM],
        .ceiling = control[TRIM_CEILING],
    };
}

#endif
