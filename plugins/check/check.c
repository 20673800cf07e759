/* Check: ports onto the processor. */
#include "check.h"
#include "check-ports.h"

static void set(void *dsp, const float *control)
{
    const CheckParams params = {.learn = control[CHECK_LEARN] > 0.f};
    check.set(dsp, &params);
}

static void report_faults(const CheckReport *heard, float *meter)
{
    static const int port[CHECK_FAULTS] = {
        [FAULT_TOO_QUIET] = CHECK_TOO_QUIET, [FAULT_TOO_LOUD] = CHECK_TOO_LOUD, [FAULT_CLIPPED] = CHECK_CLIPPED,
        [FAULT_NOISY] = CHECK_NOISY,         [FAULT_HUM] = CHECK_HUM,           [FAULT_ROOMY] = CHECK_ROOMY,
        [FAULT_POPPING] = CHECK_POPPING,     [FAULT_UNEVEN] = CHECK_UNEVEN,
    };
    for (int f = 0; f < CHECK_FAULTS; ++f)
        meter[port[f]] = heard->fault[f] ? 1.f : 0.f;
}

static void report(const void *dsp, float *meter)
{
    CheckReport heard;
    check.report(dsp, &heard);
    meter[CHECK_VERDICT] = (float)heard.verdict;
    meter[CHECK_VOICE_RANGE] = (float)heard.range;
    meter[CHECK_ROOM] = (float)heard.room;
    meter[CHECK_VOICE_LEVEL] = (float)heard.voice_level;
    meter[CHECK_PEAK] = (float)heard.peak;
    meter[CHECK_CLIPPED_SAMPLES] = (float)heard.clipped;
    meter[CHECK_NOISE_FLOOR] = (float)heard.noise_floor;
    meter[CHECK_SIGNAL_TO_NOISE] = (float)heard.signal_to_noise;
    meter[CHECK_HUM_MAINS] = (float)heard.hum_hz;
    meter[CHECK_HUM_LEVEL] = (float)heard.hum_level;
    meter[CHECK_DECAY] = (float)heard.decay;
    meter[CHECK_POPS] = (float)heard.pops;
    meter[CHECK_LOWEST_NOTE] = (float)heard.lowest;
    meter[CHECK_HIGHEST_NOTE] = (float)heard.highest;
    meter[CHECK_LOWEST_PITCH] = (float)heard.lowest_hz;
    meter[CHECK_HIGHEST_PITCH] = (float)heard.highest_hz;
    meter[CHECK_PHRASE_SPREAD] = (float)heard.uneven;
    meter[CHECK_LOUDNESS] = (float)heard.loudness;
    meter[CHECK_LOUDNESS_RANGE] = (float)heard.loudness_range;
    report_faults(&heard, meter);
}

/* The descriptor's choices are the processor's, in its order. */
_Static_assert((int)CHECK_VERDICT_UNEVEN == (int)VERDICT_UNEVEN, "verdicts");
_Static_assert((int)CHECK_VOICE_RANGE_SPOKEN_HIGH == (int)RANGE_SPOKEN_HIGH, "voice ranges");
_Static_assert((int)CHECK_ROOM_LIVE == (int)ROOM_LIVE, "rooms");

SHELL_PLUGIN(check, CHECK, .set = set, .report = report);
