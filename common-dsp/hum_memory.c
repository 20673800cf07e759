#include "hum_memory.h"

#include "units.h"

#define AMPLITUDE_STEPS 8192.0 /* steps in the hum's amplitude; chosen */
#define STORED_ZERO     32768.0

enum { QUIETEST, SILENT, FAMILY, LEVEL };

#define LEVEL_STEP 0.01 /* dB, over UNITS_DB_FLOOR; chosen */

#define MEMBER(member, as) LEARNED_IN(HumMemory, member, as)

const LearnedSchema hum_schema = {
    .fields = 6,
    .field = {{"hum_voice", LEVEL_MEMORY_BINS, 0.f, TALLY_MOST, MEMBER(voice, LEARNED_COUNTS)},
              {"hum_rests", MAINS_BINS, 0.f, TALLY_MOST, MEMBER(rests, LEARNED_COUNTS)},
              {"hum_fifty", MAINS_BINS, 0.f, TALLY_MOST, MEMBER(family[0], LEARNED_COUNTS)},
              {"hum_sixty", MAINS_BINS, 0.f, TALLY_MOST, MEMBER(family[1], LEARNED_COUNTS)},
              {"hum_row", HUM_MEMORY_ROW, 0.f, TALLY_MOST, MEMBER(row, LEARNED_ROW)},
              {"hum_shape", HUM_MEMORY_SHAPE, 0.f, TALLY_MOST, MEMBER(shape, LEARNED_ROW)}},
};

bool hum_memory_hear(HumMemory *m, const HearingFrame *frame, const RestFound *rest)
{
    if (frame->voice.block)
        level_memory_add(&m->voice, frame->voice.db);
    if (rest->block)
        tally_add(&m->rests, &mains_scale, rest->block_db);
    if (rest->silent && m->row[SILENT] < TALLY_MOST)
        ++m->row[SILENT];
    return rest->window && mains_window(&m->row[QUIETEST], &m->family[0], &m->family[1], rest->window_db);
}

void hum_memory_window(HumMemory *m, const double db[HUM_FAMILIES])
{
    for (uint32_t f = 0; f < HUM_FAMILIES; ++f)
        tally_add(&m->family[f], &mains_scale, db[f]);
}

static MainsHeard heard(const HumMemory *m, double hz)
{
    return (MainsHeard){
        .family = {hz > 55.0 ? NULL : &m->family[0], hz > 0.0 && hz < 55.0 ? NULL : &m->family[1]},
        .rests = &m->rests,
        .silent = m->row[SILENT],
        .voice = level_memory_level(&m->voice),
    };
}

MainsFound hum_memory_found(const HumMemory *m, double hz, double *rests)
{
    const MainsHeard all = heard(m, hz);
    *rests = mains_rests(&all);
    return mains_found(&all);
}

MainsFound hum_memory_suspected(const HumMemory *m, double hz)
{
    const MainsHeard all = heard(m, hz);
    return mains_suspected(&all);
}

static double noted_amplitude(const HumMemory *m)
{
    return db_to_gain(m->row[LEVEL] * LEVEL_STEP + UNITS_DB_FLOOR);
}

static uint32_t coded(float x, double amplitude)
{
    return (uint32_t)(dsp_clamp((double)x / amplitude * AMPLITUDE_STEPS, -STORED_ZERO, STORED_ZERO - 1.0) +
                      STORED_ZERO + 0.5);
}

void hum_memory_note(HumMemory *m, const FollowerShape *shape, double hz, double level)
{
    uint32_t *to = m->shape;
    m->row[FAMILY] = (uint32_t)hz;
    m->row[LEVEL] = (uint32_t)((level - UNITS_DB_FLOOR) / LEVEL_STEP);
    const double amplitude = noted_amplitude(m);
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        for (uint32_t k = 0; k < FOLLOWER_HARMONICS; ++k) {
            *to++ = coded(shape->channel[c].re[k], amplitude);
            *to++ = coded(shape->channel[c].im[k], amplitude);
        }
}

bool hum_memory_shape(const HumMemory *m, double hz, FollowerShape *shape)
{
    const double amplitude = noted_amplitude(m) / AMPLITUDE_STEPS;
    const uint32_t *from = m->shape;
    if (m->row[FAMILY] != (uint32_t)hz)
        return false;
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        for (uint32_t k = 0; k < FOLLOWER_HARMONICS; ++k) {
            shape->channel[c].re[k] = (float)((*from++ - STORED_ZERO) * amplitude);
            shape->channel[c].im[k] = (float)((*from++ - STORED_ZERO) * amplitude);
        }
    return true;
}
