#include "chain.h"

#include "chain_cells.h"
#include "chain_points.h"
#include "units.h"

#include <stddef.h>
#include <stdlib.h>

/* Chosen, not searched. */
#define COMPARE_FADE 0.03 /* s: cross-fade between the raw take and the whole */
#define RAISED_TIME  3.0  /* s: time constant of the powers into and out of Compressor's gain */

/* ---- The row ---- */

typedef struct {
    const Processor *is;
    size_t at, params, report; /* in Chain, ChainParams and ChainReport */
} ChainStage;

#define STAGE(name)                                                                                                    \
    {                                                                                                                  \
        &(name), offsetof(Chain, name), offsetof(ChainParams, name), offsetof(ChainReport, name)                       \
    }

enum { TRIM, TONE, COMPRESSOR, ESSES, PLATE, STAGES };

static const ChainStage row[STAGES] = {
    STAGE(trim),
    STAGE(tone),
    STAGE(compressor),
    STAGE(esses),
    {&plate, offsetof(Chain, plate), offsetof(ChainParams, plate), 0},
};

static void *stage_of(Chain *c, uint32_t s)
{
    return (char *)c + row[s].at;
}

/* ---- Life ---- */

static size_t most_figures(void)
{
    size_t most = 0;
    for (uint32_t p = 0; p < chain_schema.parts; ++p) {
        const size_t room = learned_room(chain_schema.part[p].schema);
        most = room > most ? room : most;
    }
    return most;
}

static void reset_own(Chain *c)
{
    c->learn = (LearnSwitch){0};
    c->aimed = false;
    c->voice = 0;
    fade_restart(&c->compare);
    smooth_restart(&c->level);
    c->went = c->passed = 0.0;
    peaks_reset(&c->peaks);
    sibilants_reset(&c->sibilants);
    delays_reset(c->raw, c->channels);
}

static bool init_own(Chain *c)
{
    c->figures = calloc(most_figures() + 1, sizeof *c->figures);
    c->latency = processor_latency(&trim, &c->trim) + processor_latency(&compressor, &c->compressor) +
                 processor_latency(&esses, &c->esses);
    c->voice_late = (processor_latency(&trim, &c->trim) + DSP_CELL / 2) / DSP_CELL;
    c->raw_late = c->latency - processor_latency(&trim, &c->trim);
    for (uint32_t i = 0; i < CHAIN_BEHIND; ++i)
        c->from[i] = CHAIN_FROM_NONE;
    sibilants_clear(&c->sibilants, true);
    c->keep = one_pole(RAISED_TIME, c->rate / DSP_CELL);
    fade_init(&c->compare, c->rate, COMPARE_FADE);
    smooth_init(&c->level, c->rate, EVEN_GLIDE);
    return delays_init(c->raw, c->channels, c->raw_late) && peaks_init(&c->peaks, c->rate, c->channels) && c->figures;
}

static bool init(void *dsp, double rate, uint32_t channels)
{
    Chain *c = dsp;
    c->rate = rate;
    c->channels = channels;
    for (uint32_t s = 0; s < STAGES; ++s)
        if (!processor_init(row[s].is, stage_of(c, s), rate, channels))
            return false;
    if (!init_own(c))
        return false;
    reset_own(c);
    return true;
}

static void done(void *dsp)
{
    Chain *c = dsp;
    for (uint32_t s = 0; s < STAGES; ++s)
        row[s].is->done(stage_of(c, s));
    delays_done(c->raw);
    peaks_done(&c->peaks);
    free(c->figures);
    c->figures = NULL;
}

static void reset(void *dsp)
{
    Chain *c = dsp;
    for (uint32_t s = 0; s < STAGES; ++s)
        row[s].is->reset(stage_of(c, s));
    reset_own(c);
}

/* The delays here hold silence by then. */
static bool pause(void *dsp)
{
    Chain *c = dsp;
    bool all = true;
    for (uint32_t s = 0; s < STAGES; ++s)
        all = (!row[s].is->pause || row[s].is->pause(stage_of(c, s))) && all;
    return all;
}

/* ---- What is learned ---- */

static uint32_t versions(const Chain *c)
{
    uint32_t sum = 0;
    for (uint32_t s = 0; s < STAGES; ++s)
        if (row[s].is->learned.schema)
            sum += processor_version(row[s].is, (const char *)c + row[s].at);
    return sum;
}

/* Does for each part what processor_put() does. */
static void restored(void *dsp)
{
    Chain *c = dsp;
    for (uint32_t s = 0; s < STAGES; ++s) {
        const ProcessorLearned *learned = &row[s].is->learned;
        if (learned->schema)
            ++*(uint32_t *)(void *)((char *)stage_of(c, s) + learned->version);
        if (learned->restored)
            learned->restored(stage_of(c, s));
    }
    c->seen = versions(c);
    c->aimed = false;
    sibilants_clear(&c->sibilants, !c->esses.memory.count && !c->esses.memory.fresh_count);
}

/* ---- A grid point ---- */

static void count_version(Chain *c)
{
    const uint32_t learned = versions(c);
    if (learned == c->seen)
        return;
    ++c->version;
    c->seen = learned;
}

static void tick(void *dsp)
{
    Chain *c = dsp;
    ChainPoint p;
    chain_tick_trim(c, &p);
    chain_tick_tone(c, &p);
    chain_tick_compressor(c, &p);
    chain_tick_esses(c, &p);
    plate.tick(&c->plate);
    if (fade_rests_at(&c->compare, false))
        smooth_restart(&c->level);
    else
        smooth_to(&c->level, db_to_gain(chain_louder(c)));
    count_version(c);
}

static void set(void *dsp, const void *wanted)
{
    Chain *c = dsp;
    const ChainParams *p = wanted;
    for (uint32_t s = 0; s < STAGES; ++s)
        row[s].is->set(stage_of(c, s), (const char *)wanted + row[s].params);
    c->learning = p->trim.learn;
    c->aimed = false;
    c->ambience = power_to_db(1.0 + (p->plate.wet > -60.0 ? db_to_power(p->plate.wet) : 0.0));
    if (learn_switch(&c->learn, c->learning))
        sibilants_clear(&c->sibilants, true);
    fade_to(&c->compare, p->compare);
}

/* ---- The samples ---- */

static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    chain_cell(dsp, in, out, n);
}

static void cells(void *dsp, const float *const *in, float *const *out, uint32_t cells)
{
    Chain *c = dsp;
    const bool alone = !fade_rests_at(&c->compare, false);
    const uint32_t most = alone ? 1 : CHAIN_ROW;
    for (uint32_t k = 0, n; k < cells; k += n) {
        const float *const from[] = {in[0] + (size_t)k * DSP_CELL,
                                     c->channels > 1 ? in[1] + (size_t)k * DSP_CELL : NULL};
        float *const to[] = {out[0] + (size_t)k * DSP_CELL, out[1] + (size_t)k * DSP_CELL};
        n = cells - k < most ? cells - k : most;
        if (alone) {
            tick(c);
            chain_cell(c, from, to, DSP_CELL);
        } else {
            chain_cells(c, from, to, n);
        }
    }
    count_version(c);
}

static void report(const void *dsp, void *to)
{
    const Chain *c = dsp;
    ChainReport *r = to;
    for (uint32_t s = 0; s < PLATE; ++s)
        processor_report(row[s].is, (const char *)dsp + row[s].at, (char *)to + row[s].report);
    r->raw_raised = gain_move_db(&c->trim.gain) + chain_louder(c);
}

const Processor chain = {
    .size = sizeof(Chain),
    .outs = PLATE_OUTS,
    PROCESSOR_FUNCTIONS,
    .cells = cells,
    .report = report,
    .pause = pause,
    .latency = offsetof(Chain, latency),
    .learned = {&chain_schema, 0, offsetof(Chain, version), restored},
};
