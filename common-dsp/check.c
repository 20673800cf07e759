#include "check.h"

#include "units.h"

#include <string.h>

/* ---- Figures ---- */

/* One step a cell, so that no cell has to walk all of the memory. */
static void work_on(Check *c)
{
    check_figures_step(&c->memory, c->step, &c->draft);
    c->step = (c->step + 1) % CHECK_STEPS;
    if (c->step == 0)
        c->report = c->draft;
}

/* The memory has changed as a whole. */
static void work_out(void *dsp)
{
    Check *c = dsp;
    c->step = 0;
    check_figures(&c->memory, &c->report);
}

static void forget(Check *c)
{
    check_memory_clear(&c->memory);
    ++c->version;
    work_out(c);
}

/* ---- Life ---- */

static void reset(void *dsp)
{
    Check *c = dsp;
    c->learn = (LearnSwitch){0};
    hearing_reset(&c->hearing);
    c->rests = (Rests){0};
    memset(&c->decay, 0, sizeof c->decay);
    memset(&c->pops, 0, sizeof c->pops);
    c->notes = (Notes){0};
    c->phrases = (Phrases){0};
    loudness_reset(&c->loudness);
    c->hops = 0;
    true_peak_reset(&c->true_peak);
    c->cell_peak = 0.f;
    memset(c->clipping, 0, sizeof c->clipping);
    c->cell_clipped = 0;
    work_out(c);
}

static bool init(void *dsp, double rate, uint32_t channels)
{
    Check *c = dsp;
    if (!hearing_init(&c->hearing, rate, channels))
        return false;
    c->channels = channels;
    c->params.learn = true;
    true_peak_init(&c->true_peak, rate);
    loudness_init(&c->loudness, rate, channels);
    reset(c);
    forget(c);
    return true;
}

static void done(void *dsp)
{
    Check *c = dsp;
    hearing_done(&c->hearing);
}

static void set(void *dsp, const void *wanted)
{
    Check *c = dsp;
    const CheckParams *params = wanted;
    c->params = *params;
    if (learn_switch(&c->learn, params->learn))
        forget(c);
}

static void report(const void *dsp, void *to)
{
    const Check *c = dsp;
    CheckReport *report = to;
    *report = c->report;
}

/* ---- Hearing ---- */

static void learn(Check *c, CheckTally which, double value)
{
    if (!c->params.learn)
        return;
    check_memory_count(&c->memory, which, value);
    ++c->version;
}

static void learn_note(Check *c, const NoteFound *note)
{
    if (!c->params.learn || !note->voiced)
        return;
    if (note->held)
        check_memory_count(&c->memory, CHECK_NOTES, note->note);
    check_memory_frame(&c->memory, note->steady);
    ++c->version;
}

static void learn_level(Check *c, double db)
{
    if (!c->params.learn)
        return;
    level_memory_add(&c->memory.level, db);
    ++c->version;
}

static void hear_frame(Check *c, const HearingFrame *frame)
{
    double value;
    if (frame->voice.block)
        learn_level(c, frame->voice.db);
    const RestFound rest = rests_hear(&c->rests, frame);
    if (rest.block)
        learn(c, CHECK_NOISE, rest.block_db);
    if (rest.window)
        hum_look(&c->hearing.hum, frame->end);
    if (decay_hear(&c->decay, frame, &value))
        learn(c, CHECK_DECAYS, log2(value));
    if (pops_hear(&c->pops, frame, &value))
        learn(c, CHECK_BURSTS, value);
    if (phrases_hear(&c->phrases, frame, &value))
        learn(c, CHECK_PHRASES, value);
    const NoteFound note = notes_hear(&c->notes, frame);
    learn_note(c, &note);
}

static void hear_loudness(Check *c)
{
    if (c->loudness.hops == c->hops)
        return;
    c->hops = c->loudness.hops;
    const double momentary = loudness_momentary(&c->loudness), short_term = loudness_short_term(&c->loudness);
    if (momentary > LOUDNESS_LOW)
        learn(c, CHECK_MOMENTARY, momentary);
    if (short_term > LOUDNESS_LOW)
        learn(c, CHECK_SHORT_TERM, short_term);
}

static void hear_peaks(Check *c)
{
    if (c->params.learn && check_memory_peak(&c->memory, gain_to_db(c->cell_peak), c->cell_clipped))
        ++c->version;
    c->cell_peak = 0.f;
    c->cell_clipped = 0;
}

/* Grid point: takes in what the last cell brought. */
static void tick(void *dsp)
{
    Check *c = dsp;
    static const CheckTally hum_tally[HUM_FAMILIES] = {CHECK_HUM_50, CHECK_HUM_60};
    double hum[HUM_FAMILIES];
    const HearingFrame *frame = hearing_frame(&c->hearing);
    if (frame)
        hear_frame(c, frame);
    if (hum_found(&c->hearing.hum, hum))
        for (uint32_t f = 0; f < HUM_FAMILIES; ++f)
            learn(c, hum_tally[f], hum[f]);
    hear_loudness(c);
    hear_peaks(c);
    work_on(c);
}

static void hear(Check *c, const float *const *in, uint32_t n)
{
    const float *const *alive = hearing_process(&c->hearing, in, n);
    for (uint32_t k = 0; k < c->channels; ++k) {
        const float peak = true_peak_process(&c->true_peak, k, in[k], n);
        c->cell_peak = peak > c->cell_peak ? peak : c->cell_peak;
        c->cell_clipped += clipping_count(&c->clipping[k], in[k], n);
    }
    loudness_process(&c->loudness, alive, n);
}

/* Either output may be either input. */
static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Check *c = dsp;
    float copy[DSP_CHANNELS][DSP_CELL];
    hear(c, in, n);
    for (uint32_t k = 0; k < c->channels; ++k)
        memcpy(copy[k], in[k], n * sizeof(float));
    for (uint32_t k = 0; k < c->channels; ++k)
        memcpy(out[k], copy[k], n * sizeof(float));
}

const Processor check = {
    .size = sizeof(Check),
    PROCESSOR_FUNCTIONS,
    .report = report,
    .learned = {&check_schema, offsetof(Check, memory), offsetof(Check, version), work_out},
};
