#include "check_faults.h"

#include "units.h"

#include <math.h>

#define NO_LEVEL UNITS_DB_FLOOR

#define LEAST_MINUTES 0.5 /* min: for faults counted per minute, a shorter voice counts as this long */

/* With fewer than this many there is no fault. */
enum {
    ENOUGH_CLICKS = 5,
    ENOUGH_BREATHS = 3,
};

/* Common practice (ours). A figure past `limit` is a fault; each further `step` counts once towards the verdict, so
 * that faults in different units can be compared. */
static const struct {
    CheckVerdict verdict;
    double limit, step;
} faults[CHECK_FAULTS] = {
    [FAULT_TOO_QUIET] = {VERDICT_TOO_QUIET, 24.0, 6.0},    /* dB of voice level under full scale */
    [FAULT_TOO_LOUD] = {VERDICT_TOO_LOUD, -12.0, 3.0},     /* dB of voice level */
    [FAULT_CLIPPED] = {VERDICT_CLIPPED, 3.0, 0.01},        /* samples or tops; the small step puts it first */
    [FAULT_NOISY] = {VERDICT_NOISY, -40.0, 5.0},           /* dB: the noise without the hum, relative to the voice */
    [FAULT_HUM] = {VERDICT_HUM, -50.0, 5.0},               /* dB: the hum, relative to the voice */
    [FAULT_ROOMY] = {VERDICT_ROOMY, CHECK_LIVE_ROOM, 0.2}, /* s */
    [FAULT_POPPING] = {VERDICT_POPPING, 1.0, 2.0},         /* pops */
    [FAULT_UNEVEN] = {VERDICT_UNEVEN, 8.0, 3.0},           /* dB */
    [FAULT_CLICKING] = {VERDICT_CLICKING, 8.0, 6.0},       /* a minute */
    [FAULT_BREATHY] = {VERDICT_BREATHY, 4.0, 4.0},         /* a minute */
};

double check_faults_limit(CheckFault fault)
{
    return faults[fault].limit;
}

/* `times` per minute of voice; 0 if they are fewer than `enough`. */
static double a_minute(const CheckMemory *m, double times, double enough)
{
    const double minutes = CHECK_VOICE_HOP / 60.0 * m->more[CHECK_MORE_BLOCKS];
    return times >= enough ? times / fmax(minutes, LEAST_MINUTES) : 0.0;
}

/* dB: the noise without the hum, relative to the voice; NO_LEVEL or less: not known, or only hum. */
static double noise_to_voice(const CheckReport *r)
{
    if (!(r->noise_floor > NO_LEVEL))
        return NO_LEVEL;
    const double hum = r->hum_level > NO_LEVEL ? db_to_power(r->hum_level) : 0.0;
    return power_to_db(db_to_power(r->noise_floor) - hum) - r->voice_level;
}

void check_faults_find(const CheckMemory *m, CheckReport *r)
{
    const double figure[CHECK_FAULTS] = {
        [FAULT_TOO_QUIET] = -r->voice_level,
        [FAULT_TOO_LOUD] = r->voice_level,
        [FAULT_CLIPPED] = fmax(r->clipped, r->flat_tops),
        [FAULT_NOISY] = noise_to_voice(r),
        [FAULT_HUM] = r->hum_level > NO_LEVEL ? r->hum_level - r->voice_level : NO_LEVEL,
        [FAULT_ROOMY] = r->decay,
        [FAULT_POPPING] = r->pops,
        [FAULT_UNEVEN] = r->uneven,
        [FAULT_CLICKING] = a_minute(m, r->clicks, ENOUGH_CLICKS),
        [FAULT_BREATHY] = a_minute(m, r->breaths, ENOUGH_BREATHS),
    };
    const bool enough = level_memory_has(&m->level, CHECK_ENOUGH);
    double worst = 0.0;
    r->verdict = enough ? VERDICT_READY : VERDICT_LISTENING;
    for (uint32_t f = 0; f < CHECK_FAULTS; ++f) {
        const double past = (figure[f] - faults[f].limit) / faults[f].step;
        r->fault[f] = enough && past > 0.0;
        r->last[f] = r->fault[f] ? check_memory_time(m, f) : -1.0;
        if (!r->fault[f] || past <= worst)
            continue;
        worst = past;
        r->verdict = faults[f].verdict;
    }
}
