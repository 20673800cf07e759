#include "phrase.h"

#include "units.h"

#include <string.h>

/* The speed is required, the makeup's limit chosen. */
#define GAIN_SPEED  3.0  /* dB/s, fastest move of the gain */
#define MOST_MAKEUP 12.0 /* dB, largest makeup up or down */

/* ---- Life ---- */

static void reset_listening(Phrase *p)
{
    listening_reset(&p->listening);
    p->hearing = (PhraseHearing){.frames = 0};
    p->filling = 0;
    p->cells = 0;
    memset(p->ring, 0, sizeof p->ring);
}

static void reset(void *dsp)
{
    Phrase *p = dsp;
    p->learn = (LearnSwitch){0};
    p->started = false;
    reset_listening(p);
    living_reset(&p->living);
    rest_bands_reset(&p->bands);
    phrase_level_reset(&p->level);
    p->db = p->next = 0.0;
    p->gain = p->next_gain = 1.0;
    p->gain_step = 0.0;
    p->report = (PhraseReport){.usual = UNITS_DB_FLOOR, .level = UNITS_DB_FLOOR};
}

static void conclude(void *dsp)
{
    Phrase *p = dsp;
    p->stale = true;
}

static bool init(void *dsp, double rate, uint32_t channels)
{
    Phrase *p = dsp;
    p->rate = rate;
    p->channels = channels;
    p->params = (PhraseParams){.within = 1.0, .most_up = 6.0, .most_down = 6.0, .even_loudness = true, .learn = true};
    if (!listening_init(&p->listening, rate, channels, listening_hops(rate), LISTENING_POWER | LISTENING_WEIGHTED))
        return false;
    living_init(&p->living, rate, channels);
    rest_bands_init(&p->bands, rate, channels);
    phrase_level_init(&p->level, rate);
    learned_clear(&phrase_schema, &p->memory);
    conclude(p);
    reset(p);
    return true;
}

static void done(void *dsp)
{
    Phrase *p = dsp;
    listening_done(&p->listening);
}

/* ---- What is learned ---- */

static void changed(Phrase *p)
{
    ++p->version;
    conclude(p);
}

/* Starts learning afresh. The listeners are reset too, as they heard nothing on hold. */
static void start_afresh(Phrase *p)
{
    reset_listening(p);
    phrase_memory_start_afresh(&p->memory, p->makeup);
    p->report.farthest = 0.0;
    changed(p);
}

/* Adds the cell that has ended to the frame in which it ends. */
static void fill_frame(Phrase *p)
{
    PhraseFrame *f = &p->ring[p->filling % LISTENING_FRAMES];
    const double energy = listening_cell_energy(&p->listening) / DSP_CELL;
    f->energy += (energy - f->energy) / ++p->cells;
    f->slow = p->level.slow;
    f->level = p->level.sounds ? p->level.level : UNITS_DB_FLOOR;
    if (p->filling == p->listening.filling)
        return;
    p->filling = p->listening.filling;
    p->ring[p->filling % LISTENING_FRAMES] = (PhraseFrame){.energy = 0.0};
    p->cells = 0;
}

static void learn_cell(Phrase *p)
{
    if (!listening_heard(&p->listening))
        return;
    fill_frame(p);
    const ListeningFrame *heard = listening_frame(&p->listening);
    if (!heard)
        return;
    PhraseFrame *frame = &p->ring[(p->listening.waiting - 1) % LISTENING_FRAMES];
    frame->voiced = heard->hz > 0.0;
    if (phrase_memory_hear(&p->memory, &p->hearing, frame))
        changed(p);
}

/* ---- The gain ---- */

static void set(void *dsp, const void *wanted)
{
    Phrase *p = dsp;
    const PhraseParams *params = wanted;
    const PhraseParams was = p->params;
    p->params = *params;
    if (was.within != params->within || was.most_up != params->most_up || was.most_down != params->most_down ||
        was.even_loudness != params->even_loudness)
        conclude(p);
    if (learn_switch(&p->learn, params->learn))
        start_afresh(p);
}

static void figure_out(Phrase *p)
{
    const PhraseParams *with = &p->params;
    p->evening = (PhraseEvening){phrase_memory_usual(&p->memory), with->within, with->most_up, with->most_down};
    p->level.usual = p->evening.usual;
    const bool known = p->evening.usual > UNITS_DB_FLOOR;
    p->makeup = known && with->even_loudness
                    ? dsp_clamp(phrase_memory_makeup(&p->memory, &p->evening), -MOST_MAKEUP, MOST_MAKEUP)
                    : 0.0;
    p->stale = false;
}

/* The gain that the current phrase calls for, dB; before the first phrase, 0: the gain of the usual level. */
static double evening_now(const Phrase *p)
{
    const bool known = p->evening.usual > UNITS_DB_FLOOR && p->level.slow > UNITS_DB_FLOOR;
    return known ? phrase_evening(&p->evening, p->level.slow) : 0.0;
}

/* Sets the gain's way through this cell. */
static void move_gain(Phrase *p)
{
    const double most = GAIN_SPEED * p->level.cell, goal = evening_now(p) + p->makeup;
    p->db = p->started ? p->next : goal;
    p->gain = p->started ? p->next_gain : db_to_gain(goal);
    const double next = p->level.sounds ? dsp_clamp(goal, p->db - most, p->db + most) : p->db;
    p->next_gain = next == p->db ? p->gain : db_to_gain(next);
    p->gain_step = (p->next_gain - p->gain) / DSP_CELL;
    p->next = next;
    p->started = true;
}

static void write_report(Phrase *p)
{
    PhraseReport *r = &p->report;
    r->usual = p->evening.usual;
    r->level = p->level.level;
    r->gain = p->db;
    r->makeup = p->makeup;
    r->farthest = fmax(r->farthest, fabs(evening_now(p)));
}

static void tick(void *dsp)
{
    Phrase *p = dsp;
    rest_bands_tick(&p->bands);
    phrase_level_hear(&p->level, &p->bands);
    if (p->params.learn)
        learn_cell(p);
    if (p->stale)
        figure_out(p);
    move_gain(p);
    write_report(p);
}

/* ---- The samples ---- */

static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Phrase *p = dsp;
    const float *alive[DSP_CHANNELS];
    float gain[DSP_CELL];
    living_process(&p->living, in, alive, n);
    rest_bands_process(&p->bands, alive, n);
    if (p->params.learn)
        listening_process(&p->listening, in, n);
    for (uint32_t t = 0; t < n; ++t, p->gain += p->gain_step)
        gain[t] = (float)p->gain;
    float sound[DSP_CHANNELS][DSP_CELL];
    for (uint32_t c = 0; c < p->channels; ++c)
        for (uint32_t t = 0; t < n; ++t)
            sound[c][t] = in[c][t] * gain[t];
    for (uint32_t c = 0; c < p->channels; ++c)
        memcpy(out[c], sound[c], n * sizeof *out[c]);
}

const Processor phrase = {
    .size = sizeof(Phrase),
    PROCESSOR_FUNCTIONS,
    PROCESSOR_REPORT(Phrase),
    .learned = {&phrase_schema, offsetof(Phrase, memory), offsetof(Phrase, version), conclude},
};
