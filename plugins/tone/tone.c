/* Tone: ports onto the processor. */
#include "tone_params.h"

static void set(void *dsp, const float *control)
{
    const ToneParams params = tone_params(control);
    tone.set(dsp, &params);
}

static void report(const void *dsp, float *meter)
{
    static const uint32_t freq[] = {TONE_FOUND1_FREQ, TONE_FOUND2_FREQ, TONE_FOUND3_FREQ};
    static const uint32_t depth[] = {TONE_FOUND1_DEPTH, TONE_FOUND2_DEPTH, TONE_FOUND3_DEPTH};
    static const uint32_t width[] = {TONE_FOUND1_WIDTH, TONE_FOUND2_WIDTH, TONE_FOUND3_WIDTH};
    static const uint32_t sure[] = {TONE_FOUND1_SURE, TONE_FOUND2_SURE, TONE_FOUND3_SURE};
    ToneReport heard;
    processor_report(&tone, dsp, &heard);
    for (uint32_t i = 0; i < TONE_DIPS; ++i) {
        meter[freq[i]] = (float)heard.found[i].freq;
        meter[depth[i]] = (float)heard.found[i].depth;
        meter[width[i]] = (float)heard.found[i].width;
        meter[sure[i]] = (float)(100.0 * resonance_share_right(heard.found[i].sure));
    }
    meter[TONE_LOWEST_NOTE] = (float)heard.lowest_note;
    meter[TONE_FOUND_LOW_CUT] = (float)heard.low_cut;
    meter[TONE_VOICE_HEARD] = (float)heard.voice_heard;
    meter[TONE_MAKEUP_NOW] = (float)heard.makeup;
}

/* The processor counts slopes in the order of the port's choices. */
_Static_assert((int)TONE_CUT_OFF == TONE_LOW_CUT_SLOPE_OFF && (int)TONE_CUT_12 == TONE_LOW_CUT_SLOPE_12_DB_PER_OCTAVE &&
                   (int)TONE_CUT_18 == TONE_LOW_CUT_SLOPE_18_DB_PER_OCTAVE &&
                   (int)TONE_CUT_24 == TONE_LOW_CUT_SLOPE_24_DB_PER_OCTAVE,
               "slopes");
_Static_assert((int)TONE_POINT_NONE == TONE_POINT_OUT_OFF && (int)TONE_POINT_DIP_1 == TONE_POINT_OUT_DIP_1 &&
                   (int)TONE_POINT_AIR == TONE_POINT_OUT_AIR,
               "bands");

SHELL_PLUGIN(tone, TONE, .set = set, .report = report);
