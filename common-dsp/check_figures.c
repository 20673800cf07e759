#include "check_figures.h"

#include "loudness.h"
#include "units.h"

#include <math.h>

#define NONE UNITS_DB_FLOOR

/* The figures of rests and hum were settled on 24 spoken takes of two minutes whose rests had been cut out, and judged
 * on seeds not looked at before (test_check.c); the others on the tests' singer, and how flat they lie was not noted.
 */
#define QUIETEST    0.05 /* share of the blocks of the rests */
#define QUIET_ROOM  3.0  /* dB over them that count */
#define REST_UNDER  6.0  /* dB under the voice: a louder block is no rest, but a voice that was not taken for one */
#define HUM_ROOM    3.0  /* dB: a hum stays within this of its middle level, and of that of the rests it stands in */
#define HUM_SHARE   0.4  /* of the windows have to lie there: else they are ends of notes */
#define POP_OVER    0.0  /* dB over the voice's level, over 20 ms */
#define UNEVEN_ENDS 0.1  /* share of the phrases */
#define ROOM_DRY_S  0.3  /* s; both: common practice, ours */
#define ROOM_LIVE_S 0.5
#define HELD_SHARE  0.004 /* of the held frames: fewer at a place are taken for slips of the tracker */

/* With fewer there is no figure. */
enum {
    ENOUGH_BLOCKS = 10, /* of voice: a second */
    ENOUGH_QUIET = 4,
    ENOUGH_WINDOWS = 4,
    ENOUGH_DECAYS = 3,
    ENOUGH_PHRASES = 3,
    ENOUGH_HELD = 8, /* frames at a place */
};

enum { NOTE_WIDTH = 4 }; /* bins of a place: a semitone */

/* ---- Reading the tallies ---- */

static double total(const CheckMemory *m, CheckTally which)
{
    return tally_total(&m->tally[which], &check_scale[which]);
}

static double count_from(const CheckMemory *m, CheckTally which, double value)
{
    return tally_from(&m->tally[which], &check_scale[which], value);
}

/* The value that so many lie under. */
static double value_at(const CheckMemory *m, CheckTally which, double count)
{
    return tally_below(&m->tally[which], &check_scale[which], count);
}

static double mean_db(const CheckMemory *m, CheckTally which, double from, double to)
{
    return tally_mean_db(&m->tally[which], &check_scale[which], from, to);
}

static bool enough_voice(const CheckMemory *m, uint32_t blocks)
{
    return level_memory_has(&m->level, blocks);
}

/* ---- Level, noise, hum ---- */

static void find_level(const CheckMemory *m, CheckReport *r)
{
    r->voice_level = enough_voice(m, ENOUGH_BLOCKS) ? level_memory_level(&m->level) : NONE;
    r->peak = m->peak;
    r->clipped = m->counter[CHECK_COUNT_CLIPPED];
}

/* Blocks of the rests up to this level. */
static double blocks_under(const CheckMemory *m, double db)
{
    return total(m, CHECK_NOISE) - count_from(m, CHECK_NOISE, db);
}

/* Blocks of the rests that are none of the voice. */
static double quiet_rests(const CheckMemory *m, const CheckReport *r)
{
    return blocks_under(m, r->voice_level > NONE ? r->voice_level - REST_UNDER : HUGE_VAL);
}

static void find_noise(const CheckMemory *m, CheckReport *r)
{
    const double blocks = quiet_rests(m, r);
    r->noise_floor = NONE;
    if (blocks > 0.0) {
        const double quiet = value_at(m, CHECK_NOISE, QUIETEST * blocks) + QUIET_ROOM;
        if (blocks_under(m, quiet) >= ENOUGH_QUIET)
            r->noise_floor = mean_db(m, CHECK_NOISE, check_scale[CHECK_NOISE].low, quiet);
    }
    const bool known = r->noise_floor > NONE && r->voice_level > NONE;
    r->signal_to_noise = known ? r->voice_level - r->noise_floor : 0.0;
}

static double hum_level(const CheckMemory *m, CheckTally family)
{
    const double windows = total(m, family);
    if (windows < ENOUGH_WINDOWS)
        return NONE;
    const TallyScale *scale = &check_scale[family];
    const double middle = value_at(m, family, 0.5 * windows);
    const double near = count_from(m, family, middle - HUM_ROOM) - count_from(m, family, middle + HUM_ROOM);
    return middle > scale->low + scale->step && near >= HUM_SHARE * windows ? middle : NONE;
}

static void find_hum(const CheckMemory *m, CheckReport *r)
{
    const double fifty = hum_level(m, CHECK_HUM_50), sixty = hum_level(m, CHECK_HUM_60), blocks = quiet_rests(m, r);
    const double most = blocks > 0.0 ? value_at(m, CHECK_NOISE, 0.5 * blocks) + HUM_ROOM : NONE;
    r->hum_level = fmax(fifty, sixty) > most ? NONE : fmax(fifty, sixty);
    r->hum_hz = !(r->hum_level > NONE) ? 0.0 : fifty >= sixty ? 50.0 : 60.0;
}

/* ---- Room, pops, notes, phrases ---- */

static CheckRoom room_of(double decay)
{
    if (!(decay > 0.0))
        return ROOM_UNKNOWN;
    return decay < ROOM_DRY_S ? ROOM_DRY : decay < ROOM_LIVE_S ? ROOM_IN_BETWEEN : ROOM_LIVE;
}

static void find_room(const CheckMemory *m, CheckReport *r)
{
    const double decays = total(m, CHECK_DECAYS);
    r->decay = decays >= ENOUGH_DECAYS ? exp2(value_at(m, CHECK_DECAYS, 0.5 * decays)) : 0.0;
    r->room = room_of(r->decay);
}

static void find_pops(const CheckMemory *m, CheckReport *r)
{
    r->pops = r->voice_level > NONE ? count_from(m, CHECK_BURSTS, r->voice_level + POP_OVER) : 0.0;
}

static void find_notes(const CheckMemory *m, CheckReport *r)
{
    const Tally *notes = &m->tally[CHECK_NOTES];
    const TallyScale *scale = &check_scale[CHECK_NOTES];
    const double held = total(m, CHECK_NOTES), enough = fmax(ENOUGH_HELD, HELD_SHARE * held);
    r->lowest = tally_lowest(notes, scale, NOTE_WIDTH, enough);
    r->highest = tally_highest(notes, scale, NOTE_WIDTH, enough);
    r->lowest_hz = r->lowest > 0.0 ? note_to_hz(r->lowest) : 0.0;
    r->highest_hz = r->highest > 0.0 ? note_to_hz(r->highest) : 0.0;
    r->range = RANGE_UNKNOWN;
    if (r->lowest > 0.0 && enough_voice(m, CHECK_ENOUGH))
        r->range = voice_range_of(r->lowest, r->highest, value_at(m, CHECK_NOTES, 0.5 * held),
                                  (double)m->counter[CHECK_COUNT_STEADY] / m->counter[CHECK_COUNT_VOICED]);
}

static void find_phrases(const CheckMemory *m, CheckReport *r)
{
    const double phrases = total(m, CHECK_PHRASES);
    r->uneven = phrases >= ENOUGH_PHRASES ? value_at(m, CHECK_PHRASES, (1.0 - UNEVEN_ENDS) * phrases) -
                                                value_at(m, CHECK_PHRASES, UNEVEN_ENDS * phrases)
                                          : 0.0;
}

/* ---- Loudness ---- */

/* Gates of BS.1770: 10 LU under the mean of what passed -70. */
static void find_loudness(const CheckMemory *m, CheckReport *r)
{
    const double all = mean_db(m, CHECK_MOMENTARY, LOUDNESS_LOW, HUGE_VAL);
    r->loudness = fmax(LOUDNESS_LOW, mean_db(m, CHECK_MOMENTARY, all - 10.0, HUGE_VAL));
}

/* EBU Tech 3342: 10th to 95th percentile of what passes 20 LU under the mean. */
static void find_loudness_range(const CheckMemory *m, CheckReport *r)
{
    const double gate = mean_db(m, CHECK_SHORT_TERM, LOUDNESS_LOW, HUGE_VAL) - 20.0;
    const double all = total(m, CHECK_SHORT_TERM), passed = count_from(m, CHECK_SHORT_TERM, gate);
    r->loudness_range = 0.0;
    if (passed > 0.0)
        r->loudness_range =
            value_at(m, CHECK_SHORT_TERM, all - 0.05 * passed) - value_at(m, CHECK_SHORT_TERM, all - 0.9 * passed);
}

/* ---- Faults ---- */

/* Common practice (ours). A figure past `limit` is a fault; each further `step` counts once towards the verdict, so
 * that faults in different units can be compared. */
static const struct {
    CheckVerdict verdict;
    double limit, step;
} faults[CHECK_FAULTS] = {
    [FAULT_TOO_QUIET] = {VERDICT_LEVEL, 24.0, 6.0},    /* dB of voice level under full scale */
    [FAULT_TOO_LOUD] = {VERDICT_LEVEL, -12.0, 3.0},    /* dB of voice level */
    [FAULT_CLIPPED] = {VERDICT_CLIPPED, 3.0, 0.01},    /* samples; the small step puts it first */
    [FAULT_NOISY] = {VERDICT_NOISY, -40.0, 5.0},       /* dB of the noise, less the hum, to the voice */
    [FAULT_HUM] = {VERDICT_HUM, -50.0, 5.0},           /* dB of the hum to the voice */
    [FAULT_ROOMY] = {VERDICT_ROOMY, ROOM_LIVE_S, 0.2}, /* s */
    [FAULT_POPPING] = {VERDICT_POPPING, 1.0, 2.0},     /* pops */
    [FAULT_UNEVEN] = {VERDICT_UNEVEN, 8.0, 3.0},       /* dB */
};

/* The noise without the hum, against the voice; NONE: not known, or hum alone. */
static double noise_to_voice(const CheckReport *r)
{
    if (!(r->noise_floor > NONE))
        return NONE;
    const double hum = r->hum_level > NONE ? db_to_power(r->hum_level) : 0.0;
    return power_to_db(db_to_power(r->noise_floor) - hum) - r->voice_level;
}

static void find_faults(const CheckMemory *m, CheckReport *r)
{
    const double figure[CHECK_FAULTS] = {
        [FAULT_TOO_QUIET] = -r->voice_level,
        [FAULT_TOO_LOUD] = r->voice_level,
        [FAULT_CLIPPED] = r->clipped,
        [FAULT_NOISY] = noise_to_voice(r),
        [FAULT_HUM] = r->hum_level > NONE ? r->hum_level - r->voice_level : NONE,
        [FAULT_ROOMY] = r->decay,
        [FAULT_POPPING] = r->pops,
        [FAULT_UNEVEN] = r->uneven,
    };
    const bool enough = enough_voice(m, CHECK_ENOUGH);
    double worst = 0.0;
    r->verdict = enough ? VERDICT_READY : VERDICT_LISTENING;
    for (uint32_t f = 0; f < CHECK_FAULTS; ++f) {
        const double past = (figure[f] - faults[f].limit) / faults[f].step;
        r->fault[f] = enough && past > 0.0;
        if (!r->fault[f] || past <= worst)
            continue;
        worst = past;
        r->verdict = faults[f].verdict;
    }
}

/* ---- The steps ---- */

static void (*const find[CHECK_STEPS])(const CheckMemory *, CheckReport *) = {
    find_level, find_noise,   find_hum,      find_room,           find_pops,
    find_notes, find_phrases, find_loudness, find_loudness_range, find_faults,
};

void check_figures_step(const CheckMemory *memory, uint32_t step, CheckReport *report)
{
    find[step](memory, report);
}

void check_figures(const CheckMemory *memory, CheckReport *report)
{
    for (uint32_t step = 0; step < CHECK_STEPS; ++step)
        check_figures_step(memory, step, report);
}
