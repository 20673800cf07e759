#include "check_memory.h"

#include "dsp.h"
#include "loudness.h"
#include "mains.h"
#include "units.h"

#include <math.h>

/* Bins are narrower than the differences between one take's figures and the next's. The ends of the scales lie beyond
 * what a take can hold, but for a decay over 8 s and a phrase over +10 dB. */
enum {
    DECAY_BINS = 120,
    BURST_BINS = 240,
    NOTE_BINS = 240,
    PHRASE_BINS = 400,
    LUFS_BINS = 400,
    CENT_BINS = 100,
    TOP_BINS = 144
};

const TallyScale check_scale[CHECK_TALLIES] = {
    [CHECK_NOISE] = MAINS_SCALE,
    [CHECK_HUM_50] = MAINS_SCALE,
    [CHECK_HUM_60] = MAINS_SCALE,
    [CHECK_DECAYS] = {-4.5, 1.0 / 16.0, DECAY_BINS}, /* 0.044 to 8 s */
    [CHECK_BURSTS] = {-100.0, 0.5, BURST_BINS},
    [CHECK_NOTES] = {30.0, 0.25, NOTE_BINS},
    [CHECK_PHRASES] = {-90.0, 0.25, PHRASE_BINS},
    [CHECK_MOMENTARY] = {LOUDNESS_LOW, 0.2, LUFS_BINS},
    [CHECK_SHORT_TERM] = {LOUDNESS_LOW, 0.2, LUFS_BINS},
    [CHECK_CENTS] = {0.0, 0.01, CENT_BINS},
    [CHECK_CLICK_LEVELS] = {-100.0, 0.5, BURST_BINS},
    [CHECK_BREATH_LEVELS] = {-100.0, 0.5, BURST_BINS},
    [CHECK_TOP_LEVELS] = {-31.0, 0.25, TOP_BINS},
    [CHECK_FLAT_LEVELS] = {-31.0, 0.25, TOP_BINS},
};

/* Fields: the levels, every tally in its order, the peak, the counters, the times. */
enum { LEVELS, TALLIES, PEAK = TALLIES + CHECK_TALLIES, COUNTS, MORE, WHEN, FIELDS };

#define TALLY_OF(which) LEARNED_IN(CheckMemory, tally[which], LEARNED_COUNTS)

const LearnedSchema check_schema = {
    .fields = FIELDS,
    .field =
        {[LEVELS] = {"check_levels", LEVEL_MEMORY_BINS, 0.f, TALLY_MOST,
                     LEARNED_IN(CheckMemory, level, LEARNED_COUNTS)},
         [TALLIES + CHECK_NOISE] = {"check_noise", MAINS_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_NOISE)},
         [TALLIES + CHECK_HUM_50] = {"check_hum_fifty", MAINS_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_HUM_50)},
         [TALLIES + CHECK_HUM_60] = {"check_hum_sixty", MAINS_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_HUM_60)},
         [TALLIES + CHECK_DECAYS] = {"check_decays", DECAY_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_DECAYS)},
         [TALLIES + CHECK_BURSTS] = {"check_bursts", BURST_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_BURSTS)},
         [TALLIES + CHECK_NOTES] = {"check_notes", NOTE_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_NOTES)},
         [TALLIES + CHECK_PHRASES] = {"check_phrases", PHRASE_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_PHRASES)},
         [TALLIES + CHECK_MOMENTARY] = {"check_momentary", LUFS_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_MOMENTARY)},
         [TALLIES + CHECK_SHORT_TERM] = {"check_short_term", LUFS_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_SHORT_TERM)},
         [TALLIES + CHECK_CENTS] = {"check_tuning", CENT_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_CENTS)},
         [TALLIES + CHECK_CLICK_LEVELS] = {"check_clicks", BURST_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_CLICK_LEVELS)},
         [TALLIES +
             CHECK_BREATH_LEVELS] = {"check_breaths", BURST_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_BREATH_LEVELS)},
         [TALLIES + CHECK_TOP_LEVELS] = {"check_tops", TOP_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_TOP_LEVELS)},
         [TALLIES + CHECK_FLAT_LEVELS] = {"check_flat_tops", TOP_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_FLAT_LEVELS)},
         [PEAK] = {"check_peak", 1, -200.f, 48.f, LEARNED_IN(CheckMemory, peak, LEARNED_FIGURE)},
         [COUNTS] = {"check_counts", CHECK_COUNTERS, 0.f, TALLY_MOST, LEARNED_IN(CheckMemory, counter, LEARNED_ROW)},
         [MORE] = {"check_more", CHECK_MORE, 0.f, TALLY_MOST, LEARNED_IN(CheckMemory, more, LEARNED_ROW),
                   .old = CHECK_MORE - 1},
         [WHEN] = {"check_when", CHECK_TIMES, 0.f, TALLY_MOST, LEARNED_IN(CheckMemory, when, LEARNED_ROW),
                   .unit = CHECK_TIME_STEP}},
};

void check_memory_clear(CheckMemory *m)
{
    *m = (CheckMemory){.peak = UNITS_DB_FLOOR};
}

void check_memory_count(CheckMemory *m, CheckTally which, double value)
{
    tally_add(&m->tally[which], &check_scale[which], value);
}

void check_memory_count_many(CheckMemory *m, CheckTally which, double value, uint32_t times)
{
    for (uint32_t i = 0; i < times; ++i)
        check_memory_count(m, which, value);
}

void check_memory_frame(CheckMemory *m, bool steady, uint32_t sung, uint32_t lasting)
{
    m->counter[CHECK_COUNT_STEADY] += steady;
    m->more[CHECK_MORE_SUNG] += sung;
    m->more[CHECK_MORE_LASTING] += lasting;
    if (++m->counter[CHECK_COUNT_VOICED] <= TALLY_MOST)
        return;
    m->counter[CHECK_COUNT_VOICED] /= 2;
    m->counter[CHECK_COUNT_STEADY] /= 2;
    m->more[CHECK_MORE_SUNG] /= 2;
    m->more[CHECK_MORE_LASTING] /= 2;
}

static void halve(Tally *t)
{
    for (uint32_t b = 0; b < TALLY_BINS; ++b)
        t->count[b] /= 2;
}

void check_memory_top(CheckMemory *m, double db, bool flat)
{
    if (tally_add(&m->tally[CHECK_TOP_LEVELS], &check_scale[CHECK_TOP_LEVELS], db))
        halve(&m->tally[CHECK_FLAT_LEVELS]);
    if (flat)
        check_memory_count(m, CHECK_FLAT_LEVELS, db);
}

void check_memory_block(CheckMemory *m, double db)
{
    level_memory_add(&m->level, db);
    if (++m->more[CHECK_MORE_BLOCKS] <= TALLY_MOST)
        return;
    m->more[CHECK_MORE_BLOCKS] /= 2;
    halve(&m->tally[CHECK_CLICK_LEVELS]);
    halve(&m->tally[CHECK_BREATH_LEVELS]);
}

bool check_memory_window(CheckMemory *m, double db)
{
    return mains_window(&m->more[CHECK_MORE_QUIET], &m->tally[CHECK_HUM_50], &m->tally[CHECK_HUM_60], db);
}

static void add_to(uint32_t *counter, uint32_t n)
{
    *counter = *counter + n < TALLY_MOST ? *counter + n : TALLY_MOST;
}

void check_memory_more(CheckMemory *m, CheckMore which)
{
    add_to(&m->more[which], 1);
}

bool check_memory_when(CheckMemory *m, uint32_t which, double seconds)
{
    const double each = which == CHECK_NOW ? CHECK_NOW_STEP : CHECK_TIME_STEP;
    const double rounded = ceil(seconds / each) * (each / CHECK_TIME_STEP);
    const uint32_t step = (uint32_t)dsp_clamp(rounded, 1.0, TALLY_MOST / CHECK_TIME_STEP);
    const bool later = step > m->when[which];
    m->when[which] = later ? step : m->when[which];
    return later;
}

double check_memory_time(const CheckMemory *m, uint32_t which)
{
    return m->when[which] ? m->when[which] * CHECK_TIME_STEP : -1.0;
}

bool check_memory_peak(CheckMemory *m, double peak, uint32_t clipped)
{
    const double rounded = ceil(peak * 256.0) / 256.0;
    if (!(rounded > m->peak) && !clipped)
        return false;
    m->peak = fmax(m->peak, rounded);
    add_to(&m->counter[CHECK_COUNT_CLIPPED], clipped);
    return true;
}

/* ---- Reading the tallies ---- */

double check_memory_total(const CheckMemory *m, CheckTally which)
{
    return tally_total(&m->tally[which], &check_scale[which]);
}

double check_memory_from(const CheckMemory *m, CheckTally which, double value)
{
    return tally_from(&m->tally[which], &check_scale[which], value);
}

double check_memory_below(const CheckMemory *m, CheckTally which, double count)
{
    return tally_below(&m->tally[which], &check_scale[which], count);
}

double check_memory_mean_db(const CheckMemory *m, CheckTally which, double from, double to)
{
    return tally_mean_db(&m->tally[which], &check_scale[which], from, to);
}
