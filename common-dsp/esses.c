#include "esses.h"

#include "design.h"
#include "units.h"

#include <math.h>

#define LOOK_AHEAD   0.005   /* s: the latency */
#define ATTACK_TAU   0.001   /* s: each of the two poles that smooth the cut */
#define RELEASE_TAU  0.02    /* s: time constant of the release */
#define CONTROL_TAU  0.02    /* s: each of the two poles with which the band follows its controls */
#define HEAR_FADE    0.03    /* s: cross-fade to what is taken out */
#define CAUGHT_CUT   (-1.0)  /* dB: least cut of a sibilant that counts as caught */
#define CAUGHT_TIME  0.015   /* s: least duration of that cut */
#define NO_CUT       (-0.01) /* dB: a release ends here */
#define LEAST_LESSON 0.06    /* s: shortest sibilant learned; shorter ones are as often bursts of t or k (esses.md) */

/* ---- Life ---- */

static void reset(void *dsp)
{
    Esses *e = dsp;
    e->learn = (LearnSwitch){0};
    living_reset(&e->living);
    sibilance_reset(&e->sibilance);
    e->wanted = 0.0;
    e->cut_for = 0;
    e->is_caught = false;
    smooth_jump(&e->cut, 0.0);
    smooth_restart(&e->centre);
    smooth_restart(&e->octaves);
    fade_restart(&e->hear);
    sos_jump(&e->bell, 0, &biquad_identity);
    sos_reset(&e->bell);
    delays_reset(e->delay, e->channels);
    e->at_rest = true;
    if (e->band.left)
        esses_band_renew(&e->band, &e->memory);
    e->sibilants = e->caught = 0;
    e->report = (EssesReport){0};
}

static bool init(void *dsp, double rate, uint32_t channels)
{
    Esses *e = dsp;
    e->rate = rate;
    e->channels = channels;
    e->latency = (uint32_t)lround(LOOK_AHEAD * rate);
    e->params = (EssesParams){.centre = 5500.0, .width = 1.0, .learn = true, .catch_above = 0.0, .most_cut = -8.0};
    esses_memory_clear(&e->memory);
    e->band.rate = rate;
    esses_band_set(&e->band, &e->memory, e->params.centre, e->params.width, e->params.listening);
    living_init(&e->living, rate, channels);
    sibilance_init(&e->sibilance, rate, channels);
    smooth_init(&e->cut, rate / DSP_CELL, ATTACK_TAU);
    smooth_init(&e->centre, rate / DSP_CELL, CONTROL_TAU);
    smooth_init(&e->octaves, rate / DSP_CELL, CONTROL_TAU);
    fade_init(&e->hear, rate, HEAR_FADE);
    sos_init(&e->bell, 1, channels);
    if (!delays_init(e->delay, channels, e->latency))
        return false;
    reset(e);
    return true;
}

static void done(void *dsp)
{
    Esses *e = dsp;
    delays_done(e->delay);
}

/* ---- What is learned ---- */

void esses_last_level(const Esses *e, double level[SIBILANCE_BANDS])
{
    const double before = e->behind ? e->before : e->memory.raised;
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        level[b] = e->sibilance.level[b] - before;
}

void esses_note(Esses *e, const double level[SIBILANCE_BANDS])
{
    if (esses_memory_knows(&e->memory, level))
        return;
    const EssesChange change = esses_memory_add(&e->memory, level);
    ++e->version;
    if (change == ESSES_REPLACED)
        esses_band_renew(&e->band, &e->memory);
    if (change == ESSES_ADDED)
        esses_band_added(&e->band, &e->memory);
}

void esses_hear_through(Esses *e, double now, double goal)
{
    const double raised = learned_round(dsp_clamp(goal, -ESSES_RAISED_MOST, ESSES_RAISED_MOST));
    e->behind = true;
    e->before = now;
    e->version += raised != e->memory.raised;
    e->memory.raised = raised;
}

static void start_afresh(Esses *e)
{
    esses_memory_start_afresh(&e->memory);
    e->sibilants = e->caught = 0;
    ++e->version;
}

static void restored(void *dsp)
{
    Esses *e = dsp;
    esses_band_renew(&e->band, &e->memory);
}

/* ---- The cut ---- */

static void set(void *dsp, const void *wanted)
{
    Esses *e = dsp;
    const EssesParams *params = wanted;
    const bool moved = params->centre != e->params.centre || params->width != e->params.width ||
                       params->listening != e->params.listening || !e->centre.holds;
    e->params = *params;
    if (learn_switch(&e->learn, params->learn))
        start_afresh(e);
    smooth_to(&e->octaves, params->width);
    fade_to(&e->hear, params->hear_caught);
    if (moved)
        esses_band_set(&e->band, &e->memory, params->centre, params->width, params->listening);
}

/* dB, 0 or less: the cut that the sound of now asks for. */
static double too_much(const Esses *e)
{
    if (!e->sibilance.sounding || !e->band.known || !e->band.sure || !e->band.in_reach)
        return 0.0;
    double power[SIBILANCE_BANDS];
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        power[b] = sibilance_power(&e->sibilance, b);
    const double upper = e->band.upper + e->memory.raised;
    const double over = power_to_db(esses_figures_band(power, e->band.weight)) - upper - e->params.catch_above;
    return over > 0.0 ? fmax(-over, e->params.most_cut) : 0.0;
}

/* The wanted cut goes down at once and back exponentially. It is smoothed afterwards, so that neither starts with a
 * kink. */
static void aim(Esses *e, double cut)
{
    const double released = cut + (e->wanted - cut) * one_pole(RELEASE_TAU, e->rate / DSP_CELL);
    e->wanted = fmin(cut, released);
    if (cut == 0.0 && e->wanted > NO_CUT)
        e->wanted = 0.0;
    smooth_to(&e->cut, e->wanted);
}

static void move_bell(Esses *e)
{
    const double before = e->cut.value, cut = smooth_step(&e->cut);
    const bool rested = e->at_rest;
    smooth_to(&e->centre, e->band.middle);
    const double middle = smooth_step(&e->centre), octaves = smooth_step(&e->octaves);
    e->at_rest = before == 0.0 && cut == 0.0;
    if (e->at_rest && !rested)
        sos_reset(&e->bell);
    if (e->at_rest)
        return;
    const Biquad bell = design_bell(exp2(middle), cut, design_q(octaves), e->rate);
    sos_glide(&e->bell, 0, &bell);
    sos_hush(&e->bell);
}

void esses_replace(Esses *e, const EssesMemory *known)
{
    const double raised = e->memory.raised;
    e->memory = *known;
    e->memory.raised = raised;
    ++e->version;
    esses_band_renew(&e->band, &e->memory);
}

static void learn_sibilant(Esses *e)
{
    double level[SIBILANCE_BANDS];
    e->passed_over = e->behind;
    if (e->behind)
        return;
    esses_last_level(e, level);
    esses_note(e, level);
}

static void count_sibilant(Esses *e)
{
    ++e->sibilants;
    e->caught += e->is_caught;
    if (e->params.learn && e->sibilance.cells * DSP_CELL >= LEAST_LESSON * e->rate)
        learn_sibilant(e);
}

static void follow_cut(Esses *e, double cut)
{
    const bool open = e->sibilance.open;
    e->cut_for = open && cut <= CAUGHT_CUT ? e->cut_for + 1 : 0;
    e->is_caught = open && (e->is_caught || e->cut_for * DSP_CELL >= CAUGHT_TIME * e->rate);
}

static void tick(void *dsp)
{
    Esses *e = dsp;
    e->passed_over = false;
    if (sibilance_tick(&e->sibilance))
        count_sibilant(e);
    esses_band_step(&e->band, &e->memory);
    esses_memory_step(&e->memory);
    const double cut = too_much(e);
    follow_cut(e, cut);
    aim(e, cut);
    move_bell(e);
    e->report = (EssesReport){
        .sounding = e->sibilance.sounding,
        .cut = e->cut.value,
        .caught_share = e->sibilants ? 100.0 * e->caught / e->sibilants : 0.0,
        .found_centre = e->band.found > 0.0 ? exp2(e->band.found) : 0.0,
    };
}

/* Cross-fades between what is left and what is taken out. late: the delayed input; out: the same after the bell. */
static void put_out_taken(Esses *e, float late[][DSP_CELL], float *const *out, uint32_t n)
{
    for (uint32_t t = 0; t < n; ++t) {
        const float taken = (float)fade_step(&e->hear);
        for (uint32_t c = 0; c < e->channels; ++c) {
            /* NOLINTNEXTLINE(clang-analyzer-core.uninitialized.Assign): as many channels as were delayed */
            const float x = late[c][t], y = out[c][t];
            out[c][t] = (1.f - taken) * y + taken * (x - y);
        }
    }
}

/* n samples of one cell. */
static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Esses *e = dsp;
    float late[DSP_CHANNELS][DSP_CELL];
    const float *alive[DSP_CHANNELS];
    living_process(&e->living, in, alive, n);
    sibilance_process(&e->sibilance, alive, n);
    for (uint32_t c = 0; c < e->channels; ++c)
        delay_process(&e->delay[c], e->latency, in[c], late[c], n);
    for (uint32_t c = 0; c < e->channels; ++c) /* every input is read by now: an output may be one */
        dsp_copy(out[c], late[c], n);
    if (!e->at_rest)
        sos_process(&e->bell, (const float *const *)out, out, n);
    if (!fade_rests_at(&e->hear, false))
        put_out_taken(e, late, out, n);
}

const Processor esses = {
    .size = sizeof(Esses),
    PROCESSOR_FUNCTIONS,
    PROCESSOR_REPORT(Esses),
    .latency = offsetof(Esses, latency),
    .learned = {&esses_schema, offsetof(Esses, memory), offsetof(Esses, version), restored},
};
