/* What Compressor's ports say, as the processor takes it: for Compressor by itself, and for Chain. */
#ifndef LINCTUS_COMPRESSOR_PARAMS_H
#define LINCTUS_COMPRESSOR_PARAMS_H

#include "compressor.h"
#include "compressor-ports.h"

/* control: a value for every port of Compressor, by index, in its range. */
static inline CompressorParams compressor_params(const float *control)
{
    return (CompressorParams){
        .wanted = control[COMPRESSOR_THRESHOLD_SET_BY] > 0.f,
        .threshold = control[COMPRESSOR_THRESHOLD],
        .wanted_reduction = control[COMPRESSOR_WANTED_REDUCTION],
        .learn = control[COMPRESSOR_LEARN] > 0.f,
        .ratio = control[COMPRESSOR_RATIO],
        .attack = control[COMPRESSOR_ATTACK],
        .release = control[COMPRESSOR_RELEASE],
        .knee = control[COMPRESSOR_KNEE],
        .look_ahead = control[COMPRESSOR_LOOK_AHEAD],
        .detector_low_cut = control[COMPRESSOR_DETECTOR_LOW_CUT],
        .makeup = control[COMPRESSOR_MAKEUP],
        .even_loudness = control[COMPRESSOR_EVEN_LOUDNESS] > 0.f,
        .blend = control[COMPRESSOR_BLEND],
    };
}

#endif
