/* Chain: ports onto the row of processors. What has no port here is as the presets of the voice have it. */
#include "chain.h"
#include "chain-ports.h"
#include "chain-voices.h"

#include "../compressor/compressor_params.h"
#include "../esses/esses_params.h"
#include "../plate/plate_params.h"
#include "../tone/tone_params.h"
#include "../trim/trim_params.h"

#include <string.h>

static void set(void *dsp, const float *control)
{
    float stage[CHAIN_STAGES][CHAIN_MOST];
    memcpy(stage, chain_voice[(uint32_t)control[CHAIN_VOICE]], sizeof stage);
    for (uint32_t k = 0; k < sizeof chain_sets / sizeof *chain_sets; ++k)
        stage[chain_sets[k].stage][chain_sets[k].sets] = control[chain_sets[k].port];
    const ChainParams params = {
        .trim = trim_params(stage[CHAIN_TRIM]),
        .tone = tone_params(stage[CHAIN_TONE]),
        .compressor = compressor_params(stage[CHAIN_COMPRESSOR]),
        .esses = esses_params(stage[CHAIN_ESSES]),
        .plate = plate_params(stage[CHAIN_PLATE]),
        .compare = control[CHAIN_COMPARE] > 0.f,
    };
    chain.set(dsp, &params);
}

static void report(const void *dsp, float *meter)
{
    static const uint32_t freq[] = {CHAIN_FOUND1_FREQ, CHAIN_FOUND2_FREQ, CHAIN_FOUND3_FREQ};
    static const uint32_t depth[] = {CHAIN_FOUND1_DEPTH, CHAIN_FOUND2_DEPTH, CHAIN_FOUND3_DEPTH};
    ChainReport r;
    processor_report(&chain, dsp, &r);
    meter[CHAIN_VOICE_LEVEL] = (float)r.trim.voice_level;
    meter[CHAIN_GAIN] = (float)r.trim.gain;
    meter[CHAIN_TURNED_DOWN] = (float)r.trim.turned_down;
    meter[CHAIN_FOUND_LOW_CUT] = (float)r.tone.low_cut;
    for (uint32_t i = 0; i < TONE_DIPS; ++i) {
        meter[freq[i]] = (float)r.tone.found[i].freq;
        meter[depth[i]] = (float)r.tone.found[i].depth;
    }
    meter[CHAIN_VOICE_HEARD] = (float)r.tone.voice_heard;
    meter[CHAIN_THRESHOLD_NOW] = (float)r.compressor.threshold_now;
    meter[CHAIN_USUAL_REDUCTION] = (float)r.compressor.usual_reduction;
    meter[CHAIN_REDUCTION] = (float)r.compressor.reduction;
    meter[CHAIN_FOUND_CENTRE] = (float)r.esses.found_centre;
    meter[CHAIN_CAUGHT_SHARE] = (float)r.esses.caught_share;
    meter[CHAIN_CUT] = (float)r.esses.cut;
    meter[CHAIN_RAW_RAISED] = (float)r.raw_raised;
}

SHELL_PLUGIN(chain, CHAIN, .set = set, .report = report);
