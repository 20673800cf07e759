/* Check: ports onto the processor. */
#include "check.h"
#include "check-ports.h"

#include <math.h>

static void set(void *dsp, const float *control)
{
    const CheckParams params = {.learn = control[CHECK_LEARN] > 0.f};
    check.set(dsp, &params);
}

/* To what can be read. */
static float rounded(double x, double step)
{
    return (float)(floor(x / step + 0.5) * step);
}

static void report_faults(const CheckReport *heard, float *meter)
{
    static const struct {
        int on, at;
    } port[CHECK_FAULTS] = {
        [FAULT_TOO_QUIET] = {CHECK_TOO_QUIET, CHECK_TOO_QUIET_AT},
        [FAULT_TOO_LOUD] = {CHECK_TOO_LOUD, CHECK_TOO_LOUD_AT},
        [FAULT_CLIPPED] = {CHECK_CLIPPED, CHECK_CLIPPED_AT},
        [FAULT_NOISY] = {CHECK_NOISY, CHECK_NOISY_AT},
        [FAULT_HUM] = {CHECK_HUM, CHECK_HUM_AT},
        [FAULT_ROOMY] = {CHECK_ROOMY, CHECK_ROOMY_AT},
        [FAULT_POPPING] = {CHECK_POPPING, CHECK_POPPING_AT},
        [FAULT_UNEVEN] = {CHECK_UNEVEN, CHECK_UNEVEN_AT},
        [FAULT_CLICKING] = {CHECK_CLICKING, CHECK_CLICKING_AT},
        [FAULT_BREATHY] = {CHECK_BREATHY, CHECK_BREATHY_AT},
    };
    for (int f = 0; f < CHECK_FAULTS; ++f) {
        meter[port[f].on] = heard->fault[f] ? 1.f : 0.f;
        meter[port[f].at] = rounded(heard->last[f], 0.1);
    }
}

static void report_sound(const CheckReport *heard, float *meter)
{
    meter[CHECK_VOICE_HEARD] = rounded(heard->voice_heard, 0.1);
    meter[CHECK_VOICE_LEVEL] = rounded(heard->voice_level, 0.1);
    meter[CHECK_PEAK] = rounded(heard->peak, 0.1);
    meter[CHECK_CLIPPED_SAMPLES] = (float)heard->clipped;
    meter[CHECK_FLAT_TOPS] = (float)heard->flat_tops;
    meter[CHECK_FLAT_TOPS_LEVEL] = rounded(heard->flat_tops_level, 0.1);
    meter[CHECK_REST_HEARD] = rounded(heard->rest_heard, 0.1);
    meter[CHECK_NOISE_FLOOR] = rounded(heard->noise_floor, 0.1);
    meter[CHECK_SIGNAL_TO_NOISE] = rounded(heard->signal_to_noise, 0.1);
    meter[CHECK_HUM_MAINS] = (float)heard->hum_hz;
    meter[CHECK_HUM_LEVEL] = rounded(heard->hum_level, 0.1);
    meter[CHECK_DECAY] = rounded(heard->decay, 0.01);
    meter[CHECK_ROOM] = (float)heard->room;
    meter[CHECK_POPS] = (float)heard->pops;
    meter[CHECK_CLICKS] = (float)heard->clicks;
    meter[CHECK_BREATHS] = (float)heard->breaths;
    meter[CHECK_BREATH_LEVEL] = rounded(heard->breath_level, 0.1);
    meter[CHECK_LOUDNESS] = rounded(heard->loudness, 0.1);
    meter[CHECK_LOUDNESS_RANGE] = rounded(heard->loudness_range, 0.1);
}

static void report_song(const CheckReport *heard, float *meter)
{
    const bool tuned = heard->out_of_tune >= 0.0;
    meter[CHECK_VOICE_RANGE] = (float)heard->range;
    meter[CHECK_LOWEST_NOTE] = rounded(heard->lowest, 0.1);
    meter[CHECK_HIGHEST_NOTE] = rounded(heard->highest, 0.1);
    meter[CHECK_LOWEST_PITCH] = rounded(heard->lowest_hz, 1.0);
    meter[CHECK_HIGHEST_PITCH] = rounded(heard->highest_hz, 1.0);
    meter[CHECK_TUNING] = tuned ? rounded(heard->tuning, 1.0) : -100.f;
    meter[CHECK_OUT_OF_TUNE] = rounded(heard->out_of_tune, 1.0);
    meter[CHECK_FAR_OUT] = tuned ? rounded(100.0 * heard->far_out, 1.0) : -1.f;
    meter[CHECK_PHRASE_SPREAD] = rounded(heard->uneven, 0.1);
}

static void report(const void *dsp, float *meter)
{
    CheckReport heard;
    processor_report(&check, dsp, &heard);
    meter[CHECK_VERDICT] = (float)heard.verdict;
    report_faults(&heard, meter);
    report_sound(&heard, meter);
    report_song(&heard, meter);
}

/* The descriptor's choices are the processor's, in its order. */
_Static_assert((int)CHECK_VERDICT_BREATHY == (int)VERDICT_BREATHY, "verdicts");
_Static_assert((int)CHECK_VOICE_RANGE_SPOKEN_HIGH == (int)RANGE_SPOKEN_HIGH, "voice ranges");
_Static_assert((int)CHECK_ROOM_LIVE == (int)ROOM_LIVE, "rooms");

SHELL_PLUGIN(check, CHECK, .set = set, .report = report, .runs_when_off = true);
