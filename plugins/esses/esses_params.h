/* What Esses's ports say, as the processor takes it: for Esses by itself, and for Chain. */
#ifndef LINCTUS_ESSES_PARAMS_H
#define LINCTUS_ESSES_PARAMS_H

#include "esses.h"
#include "esses-ports.h"

/* control: a value for every port of Esses, by index, in its range. */
static inline EssesParams esses_params(const float *control)
{
    return (EssesParams){
        .centre = control[ESSES_CENTRE],
        .listening = control[ESSES_CENTRE_SET_BY] > 0.f,
        .width = control[ESSES_WIDTH],
        .learn = control[ESSES_LEARN] > 0.f,
        .catch_above = control[ESSES_CATCH_ABOVE],
        .most_cut = control[ESSES_MOST_CUT],
        .hear_caught = control[ESSES_HEAR_CAUGHT] > 0.f,
    };
}

#endif
