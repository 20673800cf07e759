#include "check_memory.h"

#include "loudness.h"
#include "units.h"

#include <math.h>

/* The bins are narrower than what one take's figures differ by from the next's; the ends lie beyond what a take can
 * hold, but for a decay over 8 s and a phrase over +10 dB. */
enum { LEVEL_BINS = 280, DECAY_BINS = 120, BURST_BINS = 240, NOTE_BINS = 240, PHRASE_BINS = 400, LUFS_BINS = 400 };

const TallyScale check_scale[CHECK_TALLIES] = {
    [CHECK_NOISE] = {-140.0, 0.5, LEVEL_BINS},
    [CHECK_HUM_50] = {-140.0, 0.5, LEVEL_BINS},
    [CHECK_HUM_60] = {-140.0, 0.5, LEVEL_BINS},
    [CHECK_DECAYS] = {-4.5, 1.0 / 16.0, DECAY_BINS}, /* 0.044 to 8 s */
    [CHECK_BURSTS] = {-100.0, 0.5, BURST_BINS},
    [CHECK_NOTES] = {30.0, 0.25, NOTE_BINS},
    [CHECK_PHRASES] = {-90.0, 0.25, PHRASE_BINS},
    [CHECK_MOMENTARY] = {LOUDNESS_LOW, 0.2, LUFS_BINS},
    [CHECK_SHORT_TERM] = {LOUDNESS_LOW, 0.2, LUFS_BINS},
};

/* Fields: the levels, every tally in its order, the peak, the counters. */
enum { LEVELS, TALLIES, PEAK = TALLIES + CHECK_TALLIES, COUNTS, FIELDS };

#define TALLY_OF(which) LEARNED_IN(CheckMemory, tally[which], LEARNED_COUNTS)

const LearnedSchema check_schema = {
    .fields = FIELDS,
    .field = {[LEVELS] = {"check_levels", LEVEL_MEMORY_BINS, 0.f, TALLY_MOST,
                          LEARNED_IN(CheckMemory, level, LEARNED_COUNTS)},
              [TALLIES + CHECK_NOISE] = {"check_noise", LEVEL_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_NOISE)},
              [TALLIES + CHECK_HUM_50] = {"check_hum_fifty", LEVEL_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_HUM_50)},
              [TALLIES + CHECK_HUM_60] = {"check_hum_sixty", LEVEL_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_HUM_60)},
              [TALLIES + CHECK_DECAYS] = {"check_decays", DECAY_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_DECAYS)},
              [TALLIES + CHECK_BURSTS] = {"check_bursts", BURST_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_BURSTS)},
              [TALLIES + CHECK_NOTES] = {"check_notes", NOTE_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_NOTES)},
              [TALLIES + CHECK_PHRASES] = {"check_phrases", PHRASE_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_PHRASES)},
              [TALLIES + CHECK_MOMENTARY] = {"check_momentary", LUFS_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_MOMENTARY)},
              [TALLIES +
                  CHECK_SHORT_TERM] = {"check_short_term", LUFS_BINS, 0.f, TALLY_MOST, TALLY_OF(CHECK_SHORT_TERM)},
              [PEAK] = {"check_peak", 1, -200.f, 48.f, LEARNED_IN(CheckMemory, peak, LEARNED_FIGURE)},
              [COUNTS] = {"check_counts", CHECK_COUNTERS, 0.f, TALLY_MOST,
                          LEARNED_IN(CheckMemory, counter, LEARNED_ROW)}},
};

void check_memory_clear(CheckMemory *m)
{
    *m = (CheckMemory){.peak = UNITS_DB_FLOOR};
}

void check_memory_count(CheckMemory *m, CheckTally which, double value)
{
    tally_add(&m->tally[which], &check_scale[which], value);
}

void check_memory_frame(CheckMemory *m, bool steady)
{
    m->counter[CHECK_COUNT_STEADY] += steady;
    if (++m->counter[CHECK_COUNT_VOICED] > TALLY_MOST) {
        m->counter[CHECK_COUNT_VOICED] /= 2;
        m->counter[CHECK_COUNT_STEADY] /= 2;
    }
}

bool check_memory_peak(CheckMemory *m, double peak, uint32_t clipped)
{
    const double rounded = ceil(peak * 256.0) / 256.0;
    if (!(rounded > m->peak) && !clipped)
        return false;
    m->peak = fmax(m->peak, rounded);
    uint32_t *all = &m->counter[CHECK_COUNT_CLIPPED];
    *all = *all + clipped < TALLY_MOST ? *all + clipped : TALLY_MOST;
    return true;
}
