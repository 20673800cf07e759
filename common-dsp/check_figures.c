#include "check_figures.h"

#include "check_faults.h"
#include "check_notes.h"
#include "decay.h"
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
#define REST_HOP        0.04 /* s: from one block of a rest to the next (rests.h) */
#define SILENT_HOP      0.01 /* s: length of a frame of digital silence */
#define CUT_OUT_TIMES   4.0  /* times as much digital silence as rest: rests were cut out, ends of words are left */

/* Tops: settled as in flat_tops.c. Of a take that was not clipped, 3 at most are flat within 1 dB, coded or not. Steps
 * as coarse as those of 8 bit make flat tops, but with as many others or more over them. A codec at 70 kbit/s and under
 * hides most of what was clipped. */
#define TOPS_SPAN  1.0  /* dB: over so much the tops of a clipped take are spread by what came after */
#define TOPS_FLAT  0.15 /* share of the tops in there that are flat at least */
#define TOPS_ABOVE 0.25 /* times as many tops over it as flat ones in there, at most: a resampler lifts some */

/* With fewer of these there is no figure. */
enum {
    ENOUGH_FLAT_TOPS = 8,
    ENOUGH_BLOCKS = 10, /* blocks of voice: a second */
    ENOUGH_QUIET = 4,   /* quiet blocks of rests */
    ENOUGH_DECAYS = 3,  /* free decays */
    ENOUGH_PHRASES = 3, /* phrases */
    ENOUGH_RESTS = 3,   /* rests */
    ENOUGH_REST = 38,   /* blocks of rests: 1.5 s; either of these two is enough */
};

/* ---- Level, noise, hum ---- */

static void find_level(const CheckMemory *m, CheckReport *r)
{
    r->voice_level = level_memory_has(&m->level, ENOUGH_BLOCKS) ? level_memory_level(&m->level) : NO_LEVEL;
    r->peak = m->peak;
    r->clipped = m->counter[CHECK_COUNT_CLIPPED];
    r->voice_heard = CHECK_VOICE_HOP * tally_total(&m->level, &level_memory_scale);
}

/* From the loudest tops down, the span that has most flat ones. */
static void find_flat_tops(const CheckMemory *m, CheckReport *r)
{
    const TallyScale *scale = &check_scale[CHECK_TOP_LEVELS];
    const uint16_t *tops = m->tally[CHECK_TOP_LEVELS].count, *flat = m->tally[CHECK_FLAT_LEVELS].count;
    const uint32_t span = (uint32_t)(TOPS_SPAN / scale->step);
    double above = 0.0, all = 0.0, level = 0.0, flats = 0.0;
    r->flat_tops = 0.0;
    for (uint32_t b = scale->bins; b-- > 0;) {
        all += tops[b];
        flats += flat[b];
        if (b + span < scale->bins) {
            above += tops[b + span];
            all -= tops[b + span];
            flats -= flat[b + span];
        }
        if (flats < ENOUGH_FLAT_TOPS || flats <= r->flat_tops || flats < TOPS_FLAT * all || above > TOPS_ABOVE * flats)
            continue;
        r->flat_tops = flats;
        level = scale->low + b * scale->step;
    }
    r->flat_tops_level =
        r->flat_tops > 0.0 ? check_memory_mean_db(m, CHECK_FLAT_LEVELS, level, level + TOPS_SPAN) : NO_LEVEL;
}

/* Blocks of the rests under this level. */
static double blocks_under(const CheckMemory *m, double db)
{
    return check_memory_total(m, CHECK_NOISE) - check_memory_from(m, CHECK_NOISE, db);
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
        const double quiet = check_memory_below(m, CHECK_NOISE, QUIETEST_SHARE * blocks) + QUIETEST_SPREAD;
        if (blocks_under(m, quiet) >= ENOUGH_QUIET)
            r->noise_floor = check_memory_mean_db(m, CHECK_NOISE, check_scale[CHECK_NOISE].low, quiet);
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

/* ---- Room, pops, clicks, breaths, phrases ---- */

static CheckRoom room_of(double decay)
{
    if (!(decay > 0.0))
        return ROOM_UNKNOWN;
    return decay < ROOM_DRY_S ? ROOM_DRY : decay < CHECK_LIVE_ROOM ? ROOM_IN_BETWEEN : ROOM_LIVE;
}

static void find_room(const CheckMemory *m, CheckReport *r)
{
    const bool enough = m->more[CHECK_MORE_FALLS] >= ENOUGH_DECAYS;
    r->decay =
        enough ? exp2(check_memory_below(m, CHECK_DECAYS, DECAY_SHARE * check_memory_total(m, CHECK_DECAYS))) : 0.0;
    r->room = room_of(r->decay);
}

static void find_pops(const CheckMemory *m, CheckReport *r)
{
    r->pops = r->voice_level > NO_LEVEL ? check_memory_from(m, CHECK_BURSTS, r->voice_level + POP_OVER_VOICE) : 0.0;
}

/* Finds clicks and breaths. */
static void find_noises(const CheckMemory *m, CheckReport *r)
{
    r->clicks = r->breaths = 0.0;
    r->breath_level = NO_LEVEL;
    if (!(r->voice_level > NO_LEVEL))
        return;
    r->clicks = check_memory_from(m, CHECK_CLICK_LEVELS, r->voice_level - CHECK_CLICK_UNDER);
    const double louder = check_memory_from(m, CHECK_BREATH_LEVELS, r->voice_level - CHECK_BREATH_MOST);
    r->breaths = check_memory_from(m, CHECK_BREATH_LEVELS, r->voice_level - CHECK_BREATH_UNDER) - louder;
    if (r->breaths > 0.0)
        r->breath_level = check_memory_below(m, CHECK_BREATH_LEVELS,
                                             check_memory_total(m, CHECK_BREATH_LEVELS) - louder - 0.5 * r->breaths);
}

/* By rank: of ten phrases the second from either end, of fewer than eight the first. Hearing the same phrases again
 * leaves the figure as it is. */
static void find_phrases(const CheckMemory *m, CheckReport *r)
{
    const double phrases = check_memory_total(m, CHECK_PHRASES), end = UNEVEN_SHARE * phrases;
    r->uneven = phrases >= ENOUGH_PHRASES
                    ? check_memory_below(m, CHECK_PHRASES, phrases - end) - check_memory_below(m, CHECK_PHRASES, end)
                    : 0.0;
}

/* ---- Loudness ---- */

/* Gates of BS.1770: -70 LUFS, then 10 LU under the mean of what passed that. */
static void find_loudness(const CheckMemory *m, CheckReport *r)
{
    const double all = check_memory_mean_db(m, CHECK_MOMENTARY, LOUDNESS_LOW, HUGE_VAL);
    r->loudness = fmax(LOUDNESS_LOW, check_memory_mean_db(m, CHECK_MOMENTARY, all - 10.0, HUGE_VAL));
}

/* EBU Tech 3342: 10th to 95th percentile of what passes a gate 20 LU under the mean. */
static void find_loudness_range(const CheckMemory *m, CheckReport *r)
{
    const double gate = check_memory_mean_db(m, CHECK_SHORT_TERM, LOUDNESS_LOW, HUGE_VAL) - 20.0;
    const double all = check_memory_total(m, CHECK_SHORT_TERM), passed = check_memory_from(m, CHECK_SHORT_TERM, gate);
    r->loudness_range = 0.0;
    if (passed > 0.0)
        r->loudness_range = check_memory_below(m, CHECK_SHORT_TERM, all - 0.05 * passed) -
                            check_memory_below(m, CHECK_SHORT_TERM, all - 0.9 * passed);
}

/* ---- The steps ---- */

static void (*const find[CHECK_STEPS])(const CheckMemory *, CheckReport *) = {
    find_level,        find_flat_tops,   find_noise,
    find_hum,          find_room,        find_pops,
    find_noises,       check_notes_find, check_notes_find_tuning,
    find_phrases,      find_loudness,    find_loudness_range,
    check_faults_find,
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
