/* Tone: ports onto the processor. */
#include "tone.h"
#include "tone-ports.h"

static void set(void *dsp, const float *control)
{
    const ToneParams params = {
        .low_cut = control[TONE_LOW_CUT],
        .slope = (ToneSlope)control[TONE_LOW_CUT_SLOPE],
        .dip =
            {
                {control[TONE_DIP1_FREQ], control[TONE_DIP1_DEPTH], control[TONE_DIP1_WIDTH]},
                {control[TONE_DIP2_FREQ], control[TONE_DIP2_DEPTH], control[TONE_DIP2_WIDTH]},
                {control[TONE_DIP3_FREQ], control[TONE_DIP3_DEPTH], control[TONE_DIP3_WIDTH]},
            },
        .air_freq = control[TONE_AIR_FREQ],
        .air_lift = control[TONE_AIR_LIFT],
    };
    tone_set(dsp, &params);
}

SHELL_PROCESSOR(Tone, tone)
SHELL_LATENCY(Tone, tone)

/* The processor counts slopes in the order of the port's choices. */
_Static_assert((int)TONE_CUT_OFF == TONE_LOW_CUT_SLOPE_OFF && (int)TONE_CUT_12 == TONE_LOW_CUT_SLOPE_12_DB_PER_OCTAVE &&
                   (int)TONE_CUT_18 == TONE_LOW_CUT_SLOPE_18_DB_PER_OCTAVE &&
                   (int)TONE_CUT_24 == TONE_LOW_CUT_SLOPE_24_DB_PER_OCTAVE,
               "slopes");

const ShellPlugin shell_plugin = {
    .variant = tone_variant,
    .port = tone_port,
    .ports = TONE_PORTS,
    .size = sizeof(Tone),
    .init = tone_shell_init,
    .done = tone_shell_done,
    .reset = tone_shell_reset,
    .set = set,
    .process = tone_shell_process,
    .latency = tone_shell_latency,
};

SHELL_DESCRIPTORS(TONE_URI, TONE_STEREO_URI);
