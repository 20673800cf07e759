#include "rests_memory.h"

#include "units.h"

/* The room alone, as Check finds it (check_figures.h): blocks that are within a few dB of the quietest. */
#define QUIETEST_SHARE  0.05 /* of the blocks lies under the level that counts as the quietest */
#define QUIETEST_SPREAD 3.0  /* dB over that level: louder blocks do not count */

enum { NOISE_BINS = 300, BLOCK = 8, BEFORE = 9 }; /* frames of a block, and frames since it ended: as in rests.c */

static const TallyScale noise_scale = {.low = -140.0, .step = 0.5, .bins = NOISE_BINS};

#define MEMBER(member, as) LEARNED_IN(RestsMemory, member, as)
#define KEPT(name, member)                                                                                             \
    {                                                                                                                  \
        name, 1, -200.f, 48.f, MEMBER(member, LEARNED_FIGURE)                                                          \
    }
#define TALLY(name, bins, member)                                                                                      \
    {                                                                                                                  \
        name, bins, 0.f, TALLY_MOST, MEMBER(member, LEARNED_COUNTS)                                                    \
    }

const LearnedSchema rests_schema = {
    .fields = 12,
    .field = {TALLY("rests_levels", LEVEL_MEMORY_BINS, level), TALLY("rests_noise", NOISE_BINS, noise),
              TALLY("rests_swing_low", NOISE_BINS, swing[0]), TALLY("rests_swing_dull", NOISE_BINS, swing[1]),
              TALLY("rests_swing_bright", NOISE_BINS, swing[2]), TALLY("rests_swing_high", NOISE_BINS, swing[3]),
              KEPT("rests_kept_level", kept_level), KEPT("rests_kept_noise", kept_noise),
              KEPT("rests_kept_low", kept_swing[0]), KEPT("rests_kept_dull", kept_swing[1]),
              KEPT("rests_kept_bright", kept_swing[2]), KEPT("rests_kept_high", kept_swing[3])},
};

/* Counts the block that ended BEFORE frames ago: its level, and how high each band swings in it. */
static void add_block(RestsMemory *m, const RestsHearing *h, double db)
{
    tally_add(&m->noise, &noise_scale, db);
    for (int b = 0; b < REST_BANDS; ++b) {
        double highest = 0.0;
        for (uint32_t i = 0; i < BLOCK; ++i)
            highest = fmax(highest, h->ring[(h->frames - BEFORE - 1 - i) % REST_FRAMES].swing[b]);
        tally_add(&m->swing[b], &noise_scale, power_to_db(highest));
    }
}

bool rests_memory_hear(RestsMemory *m, RestsHearing *h, const ListeningFrame *heard, const RestsFrame *frame,
                       uint32_t hop)
{
    h->ring[h->frames++ % REST_FRAMES] = *frame;
    const bool silent = frame->mean < (double)DSP_DIGITAL_SILENCE * (double)DSP_DIGITAL_SILENCE;
    const RestFound rest =
        rests_hear(&h->rests, &(HearingFrame){.power = frame->mean, .hz = heard->hz, .silent = silent});
    const VoiceLevelFound voice = voice_level_hear(&h->voice, heard, hop);
    if (voice.block)
        level_memory_add(&m->level, voice.db);
    if (rest.block)
        add_block(m, h, rest.block_db);
    return voice.block || rest.block;
}

static double room(const Tally *t)
{
    const double quiet = tally_below(t, &noise_scale, QUIETEST_SHARE * tally_total(t, &noise_scale)) + QUIETEST_SPREAD;
    return learned_round(tally_mean_db(t, &noise_scale, noise_scale.low, quiet));
}

RestsFigures rests_memory_figures(const RestsMemory *m)
{
    const bool rests = tally_total(&m->noise, &noise_scale) >= RESTS_NOISE_ENOUGH;
    RestsFigures f = {.level = m->kept_level, .noise = rests ? room(&m->noise) : m->kept_noise};
    if (level_memory_has(&m->level, RESTS_VOICE_ENOUGH))
        f.level = learned_round(level_memory_level(&m->level));
    for (int b = 0; b < REST_BANDS; ++b)
        f.swing[b] = rests && tally_total(&m->swing[b], &noise_scale) ? room(&m->swing[b]) : m->kept_swing[b];
    f.known = f.level > UNITS_DB_FLOOR && f.noise > UNITS_DB_FLOOR && f.level - f.noise >= RESTS_LEAST_OVER;
    return f;
}

void rests_memory_start_afresh(RestsMemory *m)
{
    const RestsFigures kept = rests_memory_figures(m);
    learned_clear(&rests_schema, m);
    m->kept_level = kept.level;
    m->kept_noise = kept.noise;
    for (int b = 0; b < REST_BANDS; ++b)
        m->kept_swing[b] = kept.swing[b];
}
