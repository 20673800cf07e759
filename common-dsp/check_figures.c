#include "check_figures.h"

#include "check_faults.h"
#include "decay.h"
#include "held.h"
#include "loudness.h"
#include "units.h"

#include <math.h>

#define NO_LEVEL UNITS_DB_FLOOR

/* The constants for rests (those for hum: mains.c) were settled on 24 spoken takes of two minutes with their rests cut
 * out, and judged on seeds not looked at before (test_check.c). They were judged once more, with those for clicks and
 * breaths, on recorded voices (test_check_voices.c). The others were settled on the tests' singer; how far each of them
 * can move before a figure suffers was not noted. */
#define QUIETEST_SHARE  0.05 /* share of the blocks of the rests that lie under the level where the noise is read */
#define QUIETEST_SPREAD 3.0  /* dB over that level: blocks up to here count as noise */
#define POP_OVER_VOICE  0.0  /* dB over the voice's level, measured over 20 ms: a louder burst is a pop */
#define UNEVEN_SHARE    0.13 /* share of the phrases that `uneven` leaves out at either end */
#define ROOM_DRY_S      0.3  /* s: decay time under which a room is dry; common practice, ours */
#define OUT_OF_TUNE     0.3  /* semitones off: more is far out of tune */
#define REST_HOP        0.04 /* s: from one block of a rest to the next (rests.h) */
#define SILENT_HOP      0.01 /* s: length of a frame of digital silence */
#define CUT_OUT_TIMES   4.0  /* times as much digital silence as rest: rests were cut out, ends of words are left */

/* With fewer of these there is no figure. */
enum {
    ENOUGH_BLOCKS = 10, /* blocks of voice: a second */
    ENOUGH_QUIET = 4,   /* quiet blocks of rests */
    ENOUGH_DECAYS = 3,  /* free decays */
    ENOUGH_PHRASES = 3, /* phrases */
    ENOUGH_SUNG = 100,  /* frames: a second */
    ENOUGH_RESTS = 3,   /* rests */
    ENOUGH_REST = 38,   /* blocks of rests: 1.5 s; either of these two is enough */
};

/* ---- Reading the tallies ---- */

static double total(const CheckMemory *m, CheckTally which)
{
    return tally_total(&m->tally[which], &check_scale[which]);
}

static double count_from(const CheckMemory *m, CheckTally which, double value)
{
    return tally_from(&m->tally[which], &check_scale[which], value);
}

/* The value that `count` of those counted lie under. */
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
    r->voice_level = enough_voice(m, ENOUGH_BLOCKS) ? level_memory_level(&m->level) : NO_LEVEL;
    r->peak = m->peak;
    r->clipped = m->counter[CHECK_COUNT_CLIPPED];
    r->voice_heard = CHECK_VOICE_HOP * tally_total(&m->level, &level_memory_scale);
}

/* Blocks of the rests under this level. */
static double blocks_under(const CheckMemory *m, double db)
{
    return total(m, CHECK_NOISE) - count_from(m, CHECK_NOISE, db);
}

/* Blocks of the rests that are far enough under the voice not to be voice. */
static double quiet_rests(const CheckMemory *m, const CheckReport *r)
{
    return blocks_under(m, r->voice_level > NO_LEVEL ? r->voice_level - MAINS_REST_UNDER : HUGE_VAL);
}

/* Whether rests were cut out: then the little that is left between digital silence and voice tells nothing. */
static bool cut_out(const CheckMemory *m, double seconds)
{
    return m->more[CHECK_MORE_SILENT] * SILENT_HOP > CUT_OUT_TIMES * seconds;
}

static bool enough_rests(const CheckMemory *m, double blocks)
{
    return (m->more[CHECK_MORE_RESTS] >= ENOUGH_RESTS || blocks >= ENOUGH_REST) && !cut_out(m, REST_HOP * blocks);
}

static void find_noise(const CheckMemory *m, CheckReport *r)
{
    const double blocks = quiet_rests(m, r);
    r->noise_floor = NO_LEVEL;
    r->rest_heard = REST_HOP * blocks;
    if (blocks > 0.0 && enough_rests(m, blocks)) {
        const double quiet = value_at(m, CHECK_NOISE, QUIETEST_SHARE * blocks) + QUIETEST_SPREAD;
        if (blocks_under(m, quiet) >= ENOUGH_QUIET)
            r->noise_floor = mean_db(m, CHECK_NOISE, check_scale[CHECK_NOISE].low, quiet);
    }
    const bool known = r->noise_floor > NO_LEVEL && r->voice_level > NO_LEVEL;
    r->signal_to_noise = known ? r->voice_level - r->noise_floor : 0.0;
}

static void find_hum(const CheckMemory *m, CheckReport *r)
{
    const MainsHeard heard = {.family = {&m->tally[CHECK_HUM_50], &m->tally[CHECK_HUM_60]},
                              .rests = &m->tally[CHECK_NOISE],
                              .silent = m->more[CHECK_MORE_SILENT],
                              .voice = r->voice_level};
    const MainsFound found = mains_found(&heard);
    r->hum_level = found.level;
    r->hum_hz = found.hz;
}

/* ---- Room, pops, clicks, breaths, notes, phrases ---- */

static CheckRoom room_of(double decay)
{
    if (!(decay > 0.0))
        return ROOM_UNKNOWN;
    return decay < ROOM_DRY_S ? ROOM_DRY : decay < CHECK_LIVE_ROOM ? ROOM_IN_BETWEEN : ROOM_LIVE;
}

static void find_room(const CheckMemory *m, CheckReport *r)
{
    const bool enough = m->more[CHECK_MORE_FALLS] >= ENOUGH_DECAYS;
    r->decay = enough ? exp2(value_at(m, CHECK_DECAYS, DECAY_SHARE * total(m, CHECK_DECAYS))) : 0.0;
    r->room = room_of(r->decay);
}

static void find_pops(const CheckMemory *m, CheckReport *r)
{
    r->pops = r->voice_level > NO_LEVEL ? count_from(m, CHECK_BURSTS, r->voice_level + POP_OVER_VOICE) : 0.0;
}

/* Finds clicks and breaths. */
static void find_noises(const CheckMemory *m, CheckReport *r)
{
    r->clicks = r->breaths = 0.0;
    r->breath_level = NO_LEVEL;
    if (!(r->voice_level > NO_LEVEL))
        return;
    r->clicks = count_from(m, CHECK_CLICK_LEVELS, r->voice_level - CHECK_CLICK_UNDER);
    const double louder = count_from(m, CHECK_BREATH_LEVELS, r->voice_level - CHECK_BREATH_MOST);
    r->breaths = count_from(m, CHECK_BREATH_LEVELS, r->voice_level - CHECK_BREATH_UNDER) - louder;
    if (r->breaths > 0.0)
        r->breath_level = value_at(m, CHECK_BREATH_LEVELS, total(m, CHECK_BREATH_LEVELS) - louder - 0.5 * r->breaths);
}

static bool is_sung(const CheckMemory *m)
{
    const double voiced = m->counter[CHECK_COUNT_VOICED];
    return m->counter[CHECK_COUNT_STEADY] >= VOICE_RANGE_STEADY * voiced ||
           m->more[CHECK_MORE_SUNG] >= VOICE_RANGE_SUNG * voiced ||
           m->more[CHECK_MORE_LASTING] >= VOICE_RANGE_LASTING * voiced;
}

static void find_notes(const CheckMemory *m, CheckReport *r)
{
    r->lowest = held_under(&m->tally[CHECK_NOTES], &check_scale[CHECK_NOTES], HELD_ENDS);
    r->highest = held_under(&m->tally[CHECK_NOTES], &check_scale[CHECK_NOTES], 1.0 - HELD_ENDS);
    const bool known = r->lowest > 0.0;
    r->lowest_hz = known ? note_to_hz(r->lowest) : 0.0;
    r->highest_hz = known ? note_to_hz(r->highest) : 0.0;
    r->range = RANGE_UNKNOWN;
    if (known && enough_voice(m, CHECK_ENOUGH))
        r->range =
            voice_range_of(r->lowest, r->highest, value_at(m, CHECK_NOTES, 0.5 * total(m, CHECK_NOTES)), is_sung(m));
}

/* Semitones from the nearest note of a scale tuned `offset` semitones high to the middle of a bin: -0.5..0.5. */
static double off_tune(uint32_t bin, double offset)
{
    const double off = (bin + 0.5) * check_scale[CHECK_CENTS].step - offset;
    return off - round(off);
}

/* Circular mean over the semitone, as of unit vectors: -0.5..0.5 semitones. */
static double mean_offset(const Tally *t)
{
    double re = 0.0, im = 0.0;
    for (uint32_t b = 0; b < check_scale[CHECK_CENTS].bins; ++b) {
        const double turn = 2.0 * DSP_PI * off_tune(b, 0.0);
        re += t->count[b] * cos(turn);
        im += t->count[b] * sin(turn);
    }
    return atan2(im, re) / (2.0 * DSP_PI);
}

static void find_tuning(const CheckMemory *m, CheckReport *r)
{
    const Tally *t = &m->tally[CHECK_CENTS];
    const double frames = total(m, CHECK_CENTS);
    r->tuning = r->far_out = 0.0;
    r->out_of_tune = -1.0;
    if (frames < ENOUGH_SUNG || r->range == RANGE_UNKNOWN || r->range >= RANGE_SPOKEN_LOW)
        return;
    const double offset = mean_offset(t);
    r->tuning = 100.0 * offset;
    r->out_of_tune = 0.0;
    for (uint32_t b = 0; b < check_scale[CHECK_CENTS].bins; ++b) {
        const double off = fabs(off_tune(b, offset));
        r->out_of_tune += 100.0 * off * t->count[b] / frames;
        r->far_out += off > OUT_OF_TUNE ? t->count[b] / frames : 0.0;
    }
}

/* By rank: of ten phrases the second from either end, of fewer than eight the first. Hearing the same phrases again
 * leaves the figure as it is. */
static void find_phrases(const CheckMemory *m, CheckReport *r)
{
    const double phrases = total(m, CHECK_PHRASES), end = UNEVEN_SHARE * phrases;
    r->uneven =
        phrases >= ENOUGH_PHRASES ? value_at(m, CHECK_PHRASES, phrases - end) - value_at(m, CHECK_PHRASES, end) : 0.0;
}

/* ---- Loudness ---- */

/* Gates of BS.1770: -70 LUFS, then 10 LU under the mean of what passed that. */
static void find_loudness(const CheckMemory *m, CheckReport *r)
{
    const double all = mean_db(m, CHECK_MOMENTARY, LOUDNESS_LOW, HUGE_VAL);
    r->loudness = fmax(LOUDNESS_LOW, mean_db(m, CHECK_MOMENTARY, all - 10.0, HUGE_VAL));
}

/* EBU Tech 3342: 10th to 95th percentile of what passes a gate 20 LU under the mean. */
static void find_loudness_range(const CheckMemory *m, CheckReport *r)
{
    const double gate = mean_db(m, CHECK_SHORT_TERM, LOUDNESS_LOW, HUGE_VAL) - 20.0;
    const double all = total(m, CHECK_SHORT_TERM), passed = count_from(m, CHECK_SHORT_TERM, gate);
    r->loudness_range = 0.0;
    if (passed > 0.0)
        r->loudness_range =
            value_at(m, CHECK_SHORT_TERM, all - 0.05 * passed) - value_at(m, CHECK_SHORT_TERM, all - 0.9 * passed);
}

/* ---- The steps ---- */

static void (*const find[CHECK_STEPS])(const CheckMemory *, CheckReport *) = {
    find_level, find_noise,  find_hum,     find_room,     find_pops,           find_noises,
    find_notes, find_tuning, find_phrases, find_loudness, find_loudness_range, check_faults_find,
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
