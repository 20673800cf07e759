#include "check.h"

#include "check_learning.h"

#include <string.h>

#define STEPS_A_CELL 0.5 /* steps of the figures in a cell: at 48 kHz the report follows within 35 ms */

/* ---- Figures ---- */

static void step(Check *c)
{
    check_figures_step(&c->memory, c->step, &c->draft);
    c->step = (c->step + 1) % CHECK_STEPS;
    if (c->step > 0)
        return;
    c->report = c->draft;
    ++c->news;
    --c->rounds;
}

/* Works in steps, so that no cell has to walk all of the memory; nobody reads figures faster. */
static void work_on(Check *c)
{
    if (c->params.learn)
        c->rounds = 2; /* the round under way, and a whole one after it */
    for (work_grant(&c->pace, STEPS_A_CELL); c->rounds && work_next(&c->pace); work_did(&c->pace, 1.0))
        step(c);
}

/* All figures at once, for a memory that has changed as a whole. */
static void work_out(Check *c)
{
    c->step = c->rounds = 0;
    c->pace = (Work){0};
    check_figures(&c->memory, &c->report);
}

/* ---- Life ---- */

static void reset_listening(Check *c)
{
    hearing_reset(&c->hearing);
    c->rests = (Rests){0};
    memset(&c->decay, 0, sizeof c->decay);
    memset(&c->pops, 0, sizeof c->pops);
    c->breaths = (Breaths){0};
    clicks_reset(&c->clicks);
    memset(&c->notes, 0, sizeof c->notes);
    c->phrases = (Phrases){0};
    loudness_now_reset(&c->loudness);
    c->hops = 0;
    true_peak_reset(&c->true_peak);
    c->cell_peak = 0.f;
    memset(c->clipping, 0, sizeof c->clipping);
    c->cell_clipped = 0;
    memset(c->flat_tops, 0, sizeof c->flat_tops);
}

/* The clock goes on from the time that the memory holds. */
static void set_clock(Check *c)
{
    c->began = fmax(check_memory_time(&c->memory, CHECK_NOW), 0.0);
    c->cells = 0;
}

static void reset(void *dsp)
{
    Check *c = dsp;
    c->learn = (LearnSwitch){0};
    reset_listening(c);
    set_clock(c);
    work_out(c);
}

/* On hold nobody listened, so what the listeners hold is old. */
static void start_afresh(Check *c)
{
    reset_listening(c);
    check_memory_clear(&c->memory);
    ++c->version;
    set_clock(c);
    work_out(c);
}

static bool init(void *dsp, double rate, uint32_t channels)
{
    Check *c = dsp;
    if (!hearing_init(&c->hearing, rate, channels) || !hearing_hear_hum(&c->hearing) ||
        !clicks_init(&c->clicks, rate, channels))
        return false;
    c->rate = rate;
    c->channels = channels;
    c->params.learn = true;
    true_peak_init(&c->true_peak, rate);
    loudness_now_init(&c->loudness, rate, channels);
    check_memory_clear(&c->memory);
    reset(c);
    return true;
}

static void done(void *dsp)
{
    Check *c = dsp;
    hearing_done(&c->hearing);
    clicks_done(&c->clicks);
}

static void set(void *dsp, const void *wanted)
{
    Check *c = dsp;
    const CheckParams *params = wanted;
    c->params = *params;
    if (learn_switch(&c->learn, params->learn))
        start_afresh(c);
}

/* ---- Hearing ---- */

/* Grid point. */
static void tick(void *dsp)
{
    Check *c = dsp;
    if (c->params.learn)
        check_learning_cell(c);
    work_on(c);
}

static void hear(Check *c, const float *const *in, uint32_t n)
{
    const float *const *alive = hearing_process(&c->hearing, in, n);
    clicks_process(&c->clicks, alive, n);
    for (uint32_t k = 0; k < c->channels; ++k) {
        c->cell_peak = true_peak_above(&c->true_peak, k, in[k], c->cell_peak, n);
        c->cell_clipped += clipping_count(&c->clipping[k], in[k], n);
        flat_tops_hear(&c->flat_tops[k], in[k], n);
    }
    loudness_now_process(&c->loudness, alive, n);
}

/* Either output may be either input. */
static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Check *c = dsp;
    float copy[DSP_CHANNELS][DSP_CELL];
    if (c->params.learn)
        hear(c, in, n);
    for (uint32_t k = 0; k < c->channels; ++k)
        memcpy(copy[k], in[k], n * sizeof(float));
    for (uint32_t k = 0; k < c->channels; ++k)
        memcpy(out[k], copy[k], n * sizeof(float));
}

/* ---- What was learned ---- */

static void restored(void *dsp)
{
    Check *c = dsp;
    set_clock(c);
    work_out(c);
}

const Processor check = {
    .size = sizeof(Check),
    PROCESSOR_FUNCTIONS,
    PROCESSOR_REPORT(Check),
    .news = offsetof(Check, news),
    .learned = {&check_schema, offsetof(Check, memory), offsetof(Check, version), restored},
};
