#include "trim_memory.h"

#include "units.h"

enum { PEAK_BINS = 376 };

static const TallyScale peak_scale = {.low = -70.0, .step = 0.25, .bins = PEAK_BINS};

#define MEMBER(member, as) LEARNED_IN(TrimMemory, member, as)

const LearnedSchema trim_schema = {
    .fields = 5,
    .field = {{"trim_levels", LEVEL_MEMORY_BINS, 0.f, TALLY_MOST, MEMBER(level, LEARNED_COUNTS)},
              {"trim_peaks", PEAK_BINS, 0.f, TALLY_MOST, MEMBER(peaks, LEARNED_COUNTS)},
              {"trim_peak", 1, -200.f, 48.f, MEMBER(peak, LEARNED_FIGURE)},
              {"trim_kept_level", 1, -200.f, 48.f, MEMBER(kept_level, LEARNED_FIGURE)},
              {"trim_kept_peak", 1, -200.f, 48.f, MEMBER(kept_peak, LEARNED_FIGURE)}},
};

bool trim_memory_hear(TrimMemory *m, VoiceLevel *blocks, const ListeningFrame *frame, uint32_t hop)
{
    const VoiceLevelFound found = voice_level_hear(blocks, frame, hop);
    if (found.block)
        level_memory_add(&m->level, found.db);
    for (uint32_t f = 0; found.peak && f < VOICE_LEVEL_FRAMES; ++f)
        tally_add(&m->peaks, &peak_scale, gain_to_db((double)found.peak[f]));
    return found.block || found.peak;
}

static double own_peak(const TrimMemory *m)
{
    const uint32_t frames = tally_total(&m->peaks, &peak_scale);
    return frames ? learned_round(tally_below(&m->peaks, &peak_scale, TRIM_OWN_PEAKS * frames)) : m->peak;
}

/* Rounded to what is stored, because a fresh start stores them. */
TrimFigures trim_memory_figures(const TrimMemory *m)
{
    if (!level_memory_has(&m->level, TRIM_ENOUGH))
        return (TrimFigures){m->kept_level, m->kept_peak};
    return (TrimFigures){learned_round(level_memory_level(&m->level)), own_peak(m)};
}

void trim_memory_start_afresh(TrimMemory *m)
{
    const TrimFigures kept = trim_memory_figures(m);
    learned_clear(&trim_schema, m);
    m->kept_level = kept.level;
    m->kept_peak = kept.peak;
}
