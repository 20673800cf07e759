#include "compressor.h"

#include "units.h"

#include <math.h>

#define STEPS_A_SECOND 1000.0 /* steps/s of the figures: a round takes 10 ms */
#define SLEW           6.0    /* dB/s: fastest that learning moves threshold and makeup */
#define SHOWN_MOVED    1.0    /* dB: the usual reduction is measured anew when the threshold has moved by more */

/* ---- Making and clearing ---- */

static void reset_listening(Compressor *c)
{
    listening_reset(&c->listening);
    c->loudest = LEVELS_LOW;
    compressor_frames_reset(&c->frames);
}

static void reset(void *dsp)
{
    Compressor *c = dsp;
    c->started = false;
    c->learn = (LearnSwitch){0};
    compressor_gain_reset(&c->gain);
    reset_listening(c);
    c->shown = (UsualReduction){0};
    c->figures = (CompressorFigures){0};
    c->pace = (Work){0};
    c->steps_left = 2 * COMPRESSOR_FIGURES_STEPS;
}

static bool init(void *dsp, double rate, uint32_t channels)
{
    Compressor *c = dsp;
    c->rate = rate;
    c->channels = channels;
    if (!compressor_gain_init(&c->gain, rate, channels) ||
        !listening_init(&c->listening, rate, channels, compressor_frames_grid(rate), LISTENING_WEIGHTED))
        return false;
    compressor_frames_init(&c->frames, rate);
    reset(c);
    return true;
}

static void done(void *dsp)
{
    Compressor *c = dsp;
    listening_done(&c->listening);
    compressor_gain_done(&c->gain);
}

/* ---- Controls ---- */

static void aim(Compressor *c)
{
    compressor_gain_aim(&c->gain, compressor_figures_threshold(&c->figures, &c->wish),
                        c->figures.makeup + c->params.makeup);
}

static void restart_shown(Compressor *c)
{
    usual_reduction_restart(&c->shown, c->gain.threshold.target);
}

static bool same_reduction(const CompressorParams *a, const CompressorParams *b)
{
    return a->ratio == b->ratio && a->knee == b->knee && a->attack == b->attack && a->release == b->release &&
           a->detector_low_cut == b->detector_low_cut;
}

static CompressorGainParams gain_params(const CompressorParams *p)
{
    return (CompressorGainParams){.slope = curve_slope(p->ratio),
                                  .knee = p->knee,
                                  .attack = p->attack / 1000.0,
                                  .release = p->release / 1000.0,
                                  .look_ahead = p->look_ahead / 1000.0,
                                  .low_cut = p->detector_low_cut,
                                  .blend = p->blend / 100.0};
}

static CompressorWish wish_of(const CompressorParams *p)
{
    return (CompressorWish){.wanted = p->wanted,
                            .reduction = p->wanted_reduction,
                            .curve = {p->threshold, curve_slope(p->ratio), p->knee},
                            .attack = p->attack / 1000.0,
                            .release = p->release / 1000.0,
                            .even_loudness = p->even_loudness,
                            .blend = p->blend / 100.0};
}

/* On hold nobody listened, so what the listeners hold is old. */
static void start_afresh(Compressor *c)
{
    reset_listening(c);
    compressor_memory_start_afresh(&c->memory);
}

static void set(void *dsp, const void *wanted)
{
    Compressor *c = dsp;
    const CompressorParams *params = wanted;
    const bool first = !c->started;
    const bool times_moved = first || params->attack != c->params.attack || params->release != c->params.release;
    const CompressorGainParams gain = gain_params(params);
    if (learn_switch(&c->learn, params->learn))
        start_afresh(c);
    if (!first && !same_reduction(params, &c->params))
        restart_shown(c);
    c->params = *params;
    c->wish = wish_of(params);
    c->wish.raised = c->memory.raised;
    c->started = true;
    compressor_gain_set(&c->gain, &gain, first, times_moved);
    if (first)
        compressor_figures_start(&c->figures, compressor_memory_in_force(&c->memory), &c->wish);
    aim(c);
    if (first)
        restart_shown(c);
}

/* ---- Listening ---- */

/* Whether a voice sounds in this frame is known now. */
static void learn_frame(Compressor *c, const CompressorFrame *frame)
{
    const LevelsFrame *block[LEVELS_BLOCK];
    if (frame->voiced)
        usual_reduction_add(&c->shown, frame->reduction);
    const bool ends = compressor_frames_block(&c->frames, block);
    compressor_memory_add(&c->memory, &frame->levels, frame->voiced, ends ? block : NULL);
}

/* A cell has ended. */
static void listen(Compressor *c)
{
    const double raised = c->memory.raised, before = c->behind ? c->before : raised;
    const double scale = before != 0.0 ? db_to_power(-before) : 1.0;
    const double energy = listening_cell_energy(&c->listening) * scale / DSP_CELL;
    const CompressorCell cell = {compressor_gain_level(&c->gain) - before, energy, c->gain.reduction.value};
    c->loudest = fmax(c->loudest, cell.level);
    Curve curve = compressor_figures_curve_ahead(&c->figures, &c->wish, c->loudest + raised);
    curve.threshold -= raised;
    compressor_frames_cell(&c->frames, &cell, &curve);
    const ListeningFrame *heard = listening_frame(&c->listening);
    const CompressorFrame *frame = heard ? compressor_frames_hear(&c->frames, heard) : NULL;
    if (frame)
        learn_frame(c, frame);
}

void compressor_hear_through(Compressor *c, double now, double goal)
{
    const double raised = learned_round(dsp_clamp(goal, -COMPRESSOR_RAISED_MOST, COMPRESSOR_RAISED_MOST));
    c->behind = true;
    c->before = now;
    c->memory.version += raised != c->memory.raised;
    c->memory.raised = raised;
}

void compressor_hear_voice(Compressor *c, bool sounding)
{
    listening_told(&c->listening, sounding);
}

static bool same_wish(const CompressorWish *a, const CompressorWish *b)
{
    return a->wanted == b->wanted && a->reduction == b->reduction && a->curve.threshold == b->curve.threshold &&
           a->curve.slope == b->curve.slope && a->curve.knee == b->curve.knee && a->attack == b->attack &&
           a->release == b->release && a->even_loudness == b->even_loudness && a->blend == b->blend &&
           a->raised == b->raised;
}

/* When memory or controls have changed, the round under way is finished and a whole one follows; then the figures are
 * up to date. */
static void look_for_changes(Compressor *c)
{
    if (c->worked.version == c->memory.version && same_wish(&c->worked.wish, &c->wish) &&
        c->worked.loud == c->figures.loud)
        return;
    c->worked.version = c->memory.version;
    c->worked.wish = c->wish;
    c->worked.loud = c->figures.loud;
    c->steps_left = 2 * COMPRESSOR_FIGURES_STEPS;
}

static void work_on(Compressor *c)
{
    c->wish.raised = c->memory.raised;
    const Levels *memory = compressor_memory_in_force(&c->memory);
    look_for_changes(c);
    work_grant(&c->pace, STEPS_A_SECOND * DSP_CELL / c->rate);
    for (; c->steps_left && work_next(&c->pace); work_did(&c->pace, 1.0), --c->steps_left)
        compressor_figures_step(&c->figures, memory, &c->wish);
    compressor_figures_move(&c->figures, &c->wish, SLEW * DSP_CELL / c->rate);
}

static void tick(void *dsp)
{
    Compressor *c = dsp;
    compressor_gain_tick(&c->gain);
    if (c->params.learn && listening_heard(&c->listening))
        listen(c);
    work_on(c);
    aim(c);
    if (fabs(c->gain.threshold.target - c->shown.threshold) > SHOWN_MOVED)
        restart_shown(c);
}

/* ---- Audio ---- */

static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Compressor *c = dsp;
    if (c->params.learn)
        listening_process(&c->listening, in, n);
    compressor_gain_process(&c->gain, in, out, n);
}

/* dB. On hold nothing is measured: it is what the curve in force takes off the learned voice where that is loud. */
static double usual_reduction(const Compressor *c)
{
    const CompressorGain *g = &c->gain;
    const Curve curve = {g->threshold.value, g->slope.value, g->knee.value};
    if (c->params.learn)
        return c->shown.usual;
    return c->figures.known ? curve_reduction(&curve, c->figures.loud_target) : 0.0;
}

static void report(const void *dsp, void *to)
{
    const Compressor *c = dsp;
    CompressorReport *report = to;
    *report = (CompressorReport){.reduction = fmax(c->gain.reduction_out, 0.0),
                                 .usual_reduction = usual_reduction(c),
                                 .threshold_now = c->gain.threshold.value,
                                 .makeup_now = c->gain.makeup.value};
}

/* A release may last longer than the silence before a pause, so it is ended here. */
static bool pause(void *dsp)
{
    Compressor *c = dsp;
    compressor_gain_let_go(&c->gain);
    return true;
}

static void restored(void *dsp)
{
    Compressor *c = dsp;
    compressor_memory_replaced(&c->memory);
    compressor_figures_replaced(&c->figures, compressor_memory_in_force(&c->memory) != NULL);
}

const Processor compressor = {
    .size = sizeof(Compressor),
    PROCESSOR_FUNCTIONS,
    .report = report,
    .pause = pause,
    .latency = offsetof(Compressor, gain.latency),
    .learned = {&compressor_schema, offsetof(Compressor, memory), offsetof(Compressor, memory.version), restored},
};
