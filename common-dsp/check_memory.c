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
enum { CLIPPED, VOICED, STEADY, COUNTERS };

const LearnedSchema check_schema = {
    .fields = FIELDS,
    .field = {[LEVELS] = {"check_levels", LEVEL_MEMORY_BINS, 0.f, LEVEL_MEMORY_MOST},
              [TALLIES + CHECK_NOISE] = {"check_noise", LEVEL_BINS, 0.f, TALLY_MOST},
              [TALLIES + CHECK_HUM_50] = {"check_hum_fifty", LEVEL_BINS, 0.f, TALLY_MOST},
              [TALLIES + CHECK_HUM_60] = {"check_hum_sixty", LEVEL_BINS, 0.f, TALLY_MOST},
              [TALLIES + CHECK_DECAYS] = {"check_decays", DECAY_BINS, 0.f, TALLY_MOST},
              [TALLIES + CHECK_BURSTS] = {"check_bursts", BURST_BINS, 0.f, TALLY_MOST},
              [TALLIES + CHECK_NOTES] = {"check_notes", NOTE_BINS, 0.f, TALLY_MOST},
              [TALLIES + CHECK_PHRASES] = {"check_phrases", PHRASE_BINS, 0.f, TALLY_MOST},
              [TALLIES + CHECK_MOMENTARY] = {"check_momentary", LUFS_BINS, 0.f, TALLY_MOST},
              [TALLIES + CHECK_SHORT_TERM] = {"check_short_term", LUFS_BINS, 0.f, TALLY_MOST},
              [PEAK] = {"check_peak", 1, -200.f, 48.f},
              [COUNTS] = {"check_counts", COUNTERS, 0.f, TALLY_MOST}},
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
    m->steady += steady;
    if (++m->voiced > TALLY_MOST) {
        m->voiced /= 2;
        m->steady /= 2;
    }
}

bool check_memory_peak(CheckMemory *m, double peak, uint32_t clipped)
{
    const double rounded = ceil(peak * 256.0) / 256.0;
    if (!(rounded > m->peak) && !clipped)
        return false;
    m->peak = fmax(m->peak, rounded);
    m->clipped += clipped;
    if (m->clipped > TALLY_MOST)
        m->clipped = TALLY_MOST;
    return true;
}

/* ---- Storing and restoring ---- */

/* One count of 0 says that the memory is known to be empty. */
static void write_counts(Learned *learned, uint32_t field, const uint32_t *count)
{
    float *to = learned_field(&check_schema, learned, field);
    uint32_t used = 1;
    for (uint32_t b = 0; b < check_schema.field[field].max; ++b) {
        to[b] = (float)count[b];
        if (count[b])
            used = b + 1;
    }
    learned->count[field] = used;
}

void check_memory_get(const CheckMemory *m, Learned *learned)
{
    const uint32_t counter[COUNTERS] = {[CLIPPED] = m->clipped, [VOICED] = m->voiced, [STEADY] = m->steady};
    write_counts(learned, LEVELS, m->level.count);
    for (uint32_t t = 0; t < CHECK_TALLIES; ++t)
        write_counts(learned, TALLIES + t, m->tally[t].count);
    learned->count[PEAK] = 1;
    *learned_field(&check_schema, learned, PEAK) = (float)m->peak;
    write_counts(learned, COUNTS, counter);
    learned->count[COUNTS] = COUNTERS;
}

static void read_counts(const Learned *learned, uint32_t field, uint32_t *count)
{
    const float *from = learned->value + learned_at(&check_schema, field);
    for (uint32_t b = 0; b < learned->count[field]; ++b)
        count[b] = (uint32_t)from[b];
}

void check_memory_put(CheckMemory *m, const Learned *learned)
{
    uint32_t counter[COUNTERS] = {0};
    check_memory_clear(m);
    read_counts(learned, LEVELS, m->level.count);
    for (uint32_t t = 0; t < CHECK_TALLIES; ++t)
        read_counts(learned, TALLIES + t, m->tally[t].count);
    if (learned->count[PEAK])
        m->peak = (double)learned->value[learned_at(&check_schema, PEAK)];
    read_counts(learned, COUNTS, counter);
    m->clipped = counter[CLIPPED];
    m->voiced = counter[VOICED];
    m->steady = counter[STEADY];
}
