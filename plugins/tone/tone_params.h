/* What Tone's ports say, as the processor takes it: for Tone by itself, and for Chain. */
#ifndef LINCTUS_TONE_PARAMS_H
#define LINCTUS_TONE_PARAMS_H

#include "tone.h"
#include "tone-ports.h"

/* control: a value for every port of Tone, by index, in its range. */
static inline ToneParams tone_params(const float *control)
{
    return (ToneParams){
        .low_cut = control[TONE_LOW_CUT],
        .slope = (ToneSlope)control[TONE_LOW_CUT_SLOPE],
        .dip =
            {
                {control[TONE_DIP1_FREQ], control[TONE_DIP1_DEPTH], control[TONE_DIP1_WIDTH],
                 control[TONE_DIP1_WHEN] > 0.f},
                {control[TONE_DIP2_FREQ], control[TONE_DIP2_DEPTH], control[TONE_DIP2_WIDTH],
                 control[TONE_DIP2_WHEN] > 0.f},
                {control[TONE_DIP3_FREQ], control[TONE_DIP3_DEPTH], control[TONE_DIP3_WIDTH],
                 control[TONE_DIP3_WHEN] > 0.f},
            },
        .air_freq = control[TONE_AIR_FREQ],
        .air_lift = control[TONE_AIR_LIFT],
        .point_out = (TonePoint)control[TONE_POINT_OUT],
        .learn = control[TONE_LEARN] > 0.f,
        .listening = control[TONE_DIPS_PLACED_BY] > 0.f,
        .cut_listening = control[TONE_LOW_CUT_SET_BY] > 0.f,
        .even_loudness = control[TONE_EVEN_LOUDNESS] > 0.f,
        .take_out = control[TONE_TAKE_OUT],
    };
}

#endif
