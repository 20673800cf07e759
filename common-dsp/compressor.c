#include "compressor.h"

#include "design.h"
#include "units.h"

#include <math.h>
#include <string.h>

#define LATENCY      0.005  /* s */
#define HOLD         0.012  /* s */
#define FRAME        0.05   /* s */
#define GLIDE        0.025  /* s, each pole of the smoothing of a control */
#define GLIDE_CURVE  0.05   /* s, of the curve's: slower than the makeup falls, or a smaller wish would make a burst */
#define GLIDE_MAKEUP 0.012  /* s */
#define ROUND_STEPS  1000.0 /* a second */
#define SLEW         6.0    /* dB/s, of what is learned */
#define LOWEST       (-60.0)
#define MOST_FOUND   40.0 /* dB of makeup: more would lift the noise of a room to the voice */
#define FIRST_UNDER  3.0  /* dB */
#define SHOWN_STEPS  8.0  /* bins per dB */
#define SHOWN_MOVED  1.0  /* dB: the figure shown starts again when the threshold has moved by that */
#define DB_TO_NEPER  0.11512925464970228

enum {
    ROUND_GAINS = 4,                    /* steps: four speeds' levels, */
    ROUND_MAKEUP = ROUND_GAINS + 1 + 4, /* the gains, the four speeds' energies, */
    ROUND_STAGES = ROUND_MAKEUP + 1,    /* the makeup */
};

/* Of the memory that is being filled; and of the one from before a fresh start, as long as that is in force. */
enum { FIELD_LEVELS, FIELD_BLOCKS, FIELD_ENERGIES, MEMORY_FIELDS, KEPT = MEMORY_FIELDS, FIELDS = 2 * MEMORY_FIELDS };
enum { LEVELS = LEVELS_SPEEDS * LEVELS_BINS, ENERGIES = LEVELS_SPEEDS * LEVELS_ROWS * LEVELS_OVERS };

static const LearnedSchema schema = {
    .fields = FIELDS,
    .field = {{.name = "compressor_levels", .max = LEVELS, .lo = 0.f, .hi = LEVELS_MOST},
              {.name = "compressor_blocks", .max = LEVELS_FINE, .lo = 0.f, .hi = LEVELS_MOST},
              {.name = "compressor_energies", .max = ENERGIES, .lo = 0.f, .hi = LEVELS_MOST},
              {.name = "compressor_kept_levels", .max = LEVELS, .lo = 0.f, .hi = LEVELS_MOST},
              {.name = "compressor_kept_blocks", .max = LEVELS_FINE, .lo = 0.f, .hi = LEVELS_MOST},
              {.name = "compressor_kept_energies", .max = ENERGIES, .lo = 0.f, .hi = LEVELS_MOST}},
};

/* ---- making and clearing ---- */

static void smooth_all(Compressor *c, double rate)
{
    smooth_init(&c->threshold, rate, GLIDE_CURVE);
    smooth_init(&c->slope, rate, GLIDE_CURVE);
    smooth_init(&c->knee, rate, GLIDE_CURVE);
    smooth_init(&c->rise, rate, GLIDE);
    smooth_init(&c->fall, rate, GLIDE);
    smooth_init(&c->behind, rate, GLIDE);
    smooth_init(&c->blend, rate, GLIDE);
    smooth_init(&c->makeup, rate, GLIDE_MAKEUP);
    smooth_init(&c->low_cut_hz, rate / DSP_CELL, GLIDE);
}

static void reset(void *dsp);

static bool init(void *dsp, double rate, uint32_t channels)
{
    Compressor *c = dsp;
    memset(c, 0, sizeof *c);
    if (!dsp_rate_ok(rate) || channels < 1 || channels > DSP_CHANNELS)
        return false;
    const double cells_per_second = rate / DSP_CELL;
    c->rate = rate;
    c->channels = channels;
    c->latency = (uint32_t)lround(LATENCY * rate);
    bool ok = voice_init(&c->voice, rate);
    ok = peak_hold_init(&c->hold, (uint32_t)(HOLD * rate)) && ok;
    ok = delay_init(&c->ahead, c->latency + 1) && ok;
    for (uint32_t ch = 0; ch < channels; ++ch)
        ok = delay_init(&c->dry[ch], c->latency) && ok;
    if (!ok)
        return false;
    sos_init(&c->low_cut, 1, channels);
    living_init(&c->living, rate, channels);
    kweight_init(&c->weight, rate);
    for (uint32_t i = 0; i < LEVELS_ATTACKS; ++i)
        c->rise_of[i] = follower_keep(levels_attack[i], cells_per_second);
    for (uint32_t i = 0; i < LEVELS_RELEASES; ++i)
        c->fall_of[i] = follower_keep(levels_release[i], cells_per_second);
    c->frame_cells = (uint32_t)lround(FRAME * cells_per_second);
    c->lag_cells = (voice_lag(&c->voice) + DSP_CELL / 2) / DSP_CELL;
    if (c->lag_cells / c->frame_cells + 2 + LEVELS_BLOCK > COMPRESSOR_PENDING)
        return false;
    reset(c);
    return true;
}

static void done(void *dsp)
{
    Compressor *c = dsp;
    voice_done(&c->voice);
    peak_hold_done(&c->hold);
    delay_done(&c->ahead);
    for (uint32_t ch = 0; ch < DSP_CHANNELS; ++ch)
        delay_done(&c->dry[ch]);
}

static void reset_listening(Compressor *c)
{
    living_reset(&c->living);
    voice_reset(&c->voice);
    kweight_reset(&c->weight);
    memset(c->speed, 0, sizeof c->speed);
    c->loudest = LEVELS_LOW;
    c->followed_at = 0.0;
    c->cell_energy = 0.0;
    c->cells = 0;
    c->listened = false;
    memset(c->frame, 0, sizeof c->frame);
}

static void reset(void *dsp)
{
    Compressor *c = dsp;
    c->started = false;
    c->learn = (LearnSwitch){0};
    sos_reset(&c->low_cut);
    peak_hold_reset(&c->hold);
    c->held = 0.f;
    c->held_db = UNITS_DB_FLOOR;
    smooth_all(c, c->rate);
    c->reduction = (Follower){0};
    c->target = c->reduction_out = 0.0;
    delay_reset(&c->ahead);
    for (uint32_t ch = 0; ch < c->channels; ++ch)
        delay_reset(&c->dry[ch]);
    c->wet_db = 0.0;
    c->wet = 1.0;
    reset_listening(c);
    memset(&c->shown, 0, sizeof c->shown);
    memset(&c->round, 0, sizeof c->round);
    c->known = c->at_once = false;
}

/* ---- figures from the memory ---- */

/* The memory whose figures are in force; NULL: nothing learned yet. */
static const Levels *in_force(const Compressor *c)
{
    for (uint32_t i = 0; i < 2; ++i) {
        const Levels *l = &c->memory[(c->filling + i) % 2];
        if (l->frames >= LEVELS_ENOUGH)
            return l;
    }
    return NULL;
}

/* Nobody listened on hold: what the listeners hold is of before. */
static void start_afresh(Compressor *c)
{
    reset_listening(c);
    if (c->memory[c->filling].frames >= LEVELS_ENOUGH)
        c->filling = 1 - c->filling;
    levels_clear(&c->memory[c->filling]);
    ++c->version;
}

/* The curve as asked for, its smoothed parts at their targets. */
static Curve curve_asked(const Compressor *c)
{
    return (Curve){c->threshold.target, c->slope.target, c->knee.target};
}

static double threshold_wished(const Compressor *c, double loud)
{
    const Curve curve = curve_asked(c);
    return dsp_clamp(loud - curve_over(&curve, c->params.wanted_reduction), LOWEST, LEVELS_HIGH);
}

static void aim_threshold(Compressor *c)
{
    const bool by_wish = c->params.wanted && c->known;
    smooth_to(&c->threshold, by_wish ? threshold_wished(c, c->loud) : c->params.threshold);
}

static void aim_makeup(Compressor *c)
{
    smooth_to(&c->makeup, c->found_now + c->params.makeup);
}

/* The figure is there for the first time: it starts from where the hand threshold stands, so that nothing jumps. */
static void become_known(Compressor *c)
{
    const Curve curve = curve_asked(c);
    const double over = curve_over(&curve, c->params.wanted_reduction);
    c->known = true;
    c->loud = isfinite(over) ? c->threshold.target + over : c->loud_target;
}

static void round_begins(CompressorRound *r, const CompressorParams *params)
{
    r->mix = levels_mix(params->attack / 1000.0, params->release / 1000.0);
    r->loud = 0.0;
    memset(&r->sums, 0, sizeof r->sums);
}

static void found_loud(Compressor *c, double loud)
{
    c->loud_target = loud;
    if (!c->known)
        become_known(c);
    if (c->at_once)
        c->loud = loud;
    c->at_once = false;
}

/* One small step of the work: the levels of four speeds, the gains of the curve, the four speeds' energies, the makeup.
 * The makeup is that of the threshold aimed at: it is on its way before the threshold is. */
static void round_step(Compressor *c)
{
    CompressorRound *r = &c->round;
    const Levels *l = in_force(c);
    if (!l) {
        r->stage = 0;
        return;
    }
    if (r->stage == 0)
        round_begins(r, &c->params);
    if (r->stage < ROUND_GAINS) {
        const double weight = r->mix.weight[r->stage];
        r->loud += weight > 0.0 ? weight * levels_loud(l, r->mix.speed[r->stage]) : 0.0;
    } else if (r->stage == ROUND_GAINS) {
        found_loud(c, r->loud);
        aim_threshold(c);
        const Curve curve = curve_asked(c);
        levels_gains(&curve, r->gain);
    } else if (r->stage < ROUND_MAKEUP) {
        const uint32_t i = r->stage - ROUND_GAINS - 1;
        levels_sum(l, r->mix.speed[i], r->mix.weight[i], r->gain, &r->sums);
    } else {
        c->found = fmin(levels_makeup(l, &r->sums, c->params.blend / 100.0), MOST_FOUND);
    }
    r->stage = (r->stage + 1) % ROUND_STAGES;
}

/* What is learned moves slowly, where it is in use; where it is not, it follows unheard. */
static void slew(Compressor *c)
{
    const double most = SLEW * DSP_CELL / c->rate;
    c->loud = c->params.wanted ? c->loud + dsp_clamp(c->loud_target - c->loud, -most, most) : c->loud_target;
    const double aim = c->params.even_loudness && c->known ? c->found : 0.0;
    c->found_now = fmin(aim, c->found_now + most);
}

/* At the start everything holds from the first sample: the figures are computed in one go. */
static void hold_at_once(Compressor *c)
{
    c->round.stage = 0;
    c->found = 0.0;
    c->at_once = true;
    smooth_restart(&c->threshold);
    do
        round_step(c);
    while (c->round.stage);
    aim_threshold(c);
    c->found_now = c->params.even_loudness && c->known ? c->found : 0.0;
    aim_makeup(c);
    c->at_once = false;
}

/* ---- controls ---- */

static bool same_reduction(const CompressorParams *a, const CompressorParams *b)
{
    return a->ratio == b->ratio && a->knee == b->knee && a->attack == b->attack && a->release == b->release &&
           a->detector_low_cut == b->detector_low_cut;
}

static void forget_shown(Compressor *c)
{
    c->shown.frames = 0;
    c->shown.threshold = c->threshold.target;
    memset(c->shown.count, 0, sizeof c->shown.count);
}

static void jump_low_cut(Compressor *c)
{
    const Biquad b = design_high_pass(c->params.detector_low_cut, sqrt(0.5), c->rate);
    sos_jump(&c->low_cut, 0, &b);
    smooth_jump(&c->low_cut_hz, c->params.detector_low_cut);
}

static void set(void *dsp, const void *wanted)
{
    Compressor *c = dsp;
    const CompressorParams *params = wanted;
    const bool first = !c->started;
    const bool times_moved = first || params->attack != c->params.attack || params->release != c->params.release;
    if (learn_switch(&c->learn, params->learn))
        start_afresh(c);
    if (!first && !same_reduction(params, &c->params))
        forget_shown(c);
    c->params = *params;
    c->started = true;
    if (times_moved) {
        smooth_to(&c->rise, follower_keep(params->attack / 1000.0, c->rate));
        smooth_to(&c->fall, follower_keep(params->release / 1000.0, c->rate));
    }
    smooth_to(&c->slope, curve_slope(params->ratio));
    smooth_to(&c->knee, params->knee);
    smooth_to(&c->behind, c->latency - round(fmin(params->look_ahead / 1000.0 * c->rate, c->latency)));
    smooth_to(&c->blend, params->blend / 100.0);
    smooth_to(&c->low_cut_hz, params->detector_low_cut);
    aim_threshold(c);
    if (!first) {
        aim_makeup(c);
        return;
    }
    jump_low_cut(c);
    hold_at_once(c);
    forget_shown(c);
}

/* ---- listening ---- */

static void show(Compressor *c, double reduction)
{
    CompressorShown *s = &c->shown;
    ++s->frames;
    ++s->count[(uint32_t)dsp_clamp(reduction * SHOWN_STEPS + 0.5, 0.0, COMPRESSOR_SHOWN - 1)];
    if (s->frames < LEVELS_ENOUGH)
        return;
    double left = s->frames / 8.0;
    uint32_t b = COMPRESSOR_SHOWN - 1;
    while (b > 0 && s->count[b] < left)
        left -= s->count[b--];
    s->usual = b / SHOWN_STEPS;
}

/* Eight frames in a row are a block. */
static void learn_block(Compressor *c, uint64_t last)
{
    const LevelsFrame *block[LEVELS_BLOCK];
    if (last + 1 < LEVELS_BLOCK)
        return;
    for (uint32_t i = 0; i < LEVELS_BLOCK; ++i)
        block[i] = &c->frame[(last + 1 - LEVELS_BLOCK + i) % COMPRESSOR_PENDING].heard;
    levels_add_block(&c->memory[c->filling], block);
}

/* The answer about a frame has come. A block begins every 100 ms: with every second frame, once a voice was heard. */
static void frame_done(Compressor *c, uint64_t number)
{
    CompressorFrame *f = &c->frame[number % COMPRESSOR_PENDING];
    const bool voiced = 2 * f->voiced >= c->frame_cells;
    if (voiced)
        show(c, f->reduction);
    if (!c->params.learn)
        return;
    if (voiced)
        levels_add_voice(&c->memory[c->filling], &f->heard);
    if (number % 2 && c->memory[c->filling].frames)
        learn_block(c, number);
    ++c->version;
}

/* The curve that listening reckons with: the one that learning is on its way to, not yet the one in force. Until
 * anything is known, the wish is aimed at a little below the loudest heard. */
static Curve curve_ahead(const Compressor *c)
{
    Curve curve = curve_asked(c);
    if (c->params.wanted)
        curve.threshold = threshold_wished(c, c->known ? c->loud_target : c->loudest - FIRST_UNDER);
    return curve;
}

/* When the threshold moves, the reductions that are being followed move with it, so that they go on standing for the
 * same level. */
static double moved(double reduction, double by)
{
    return reduction > 0.0 ? fmax(0.0, reduction + by) : 0.0;
}

/* The reduction asked for now, as every speed would follow it. */
static void follow(Compressor *c)
{
    c->loudest = fmax(c->loudest, c->held_db);
    const Curve curve = curve_ahead(c);
    const double target = curve_reduction(&curve, c->held_db);
    const double by = curve.slope * (c->followed_at - curve.threshold);
    c->followed_at = curve.threshold;
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s) {
        Follower *f = &c->speed[s];
        f->first = moved(f->first, by);
        f->value = moved(f->value, by);
        follower_step(f, c->rise_of[s / LEVELS_RELEASES], c->fall_of[s % LEVELS_RELEASES], target);
        f->first = dsp_hush(f->first);
        f->value = dsp_hush(f->value);
    }
}

/* The steady level that this curve turns down by `reduction`: what a detector with the same attack and release reads.
 * The gain is what is followed, not the level, so a silence before a word counts for where the curve begins and no
 * lower. Where nothing is turned down, the level itself. */
static double level_of(const Curve *curve, double reduction, double level)
{
    if (!(curve->slope > 0.0))
        return level;
    if (reduction > 0.0)
        return curve->threshold + curve_over(curve, reduction);
    return fmin(level, curve->threshold - 0.5 * curve->knee);
}

/* From sums to means, and from reductions to levels. */
static void frame_ends(CompressorFrame *f, const Curve *curve, uint32_t cells)
{
    LevelsFrame *h = &f->heard;
    f->level /= cells;
    f->level_by_energy = h->energy > 0.0 ? f->level_by_energy / h->energy : f->level;
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s) {
        const double reduction = h->level[s] / cells;
        const double by_energy = h->energy > 0.0 ? h->weighed[s] / h->energy : reduction;
        h->level[s] = level_of(curve, reduction, f->level);
        h->weighed[s] = level_of(curve, by_energy, f->level_by_energy);
    }
    h->energy /= cells;
    f->reduction /= cells;
}

static void hear_cell(Compressor *c)
{
    const uint32_t at = (uint32_t)(c->cells % c->frame_cells);
    CompressorFrame *f = &c->frame[c->cells / c->frame_cells % COMPRESSOR_PENDING];
    if (at == 0)
        memset(f, 0, sizeof *f);
    const double energy = c->cell_energy / DSP_CELL;
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s) {
        f->heard.level[s] += c->speed[s].value;
        f->heard.weighed[s] += c->speed[s].value * energy;
    }
    f->heard.energy += energy;
    f->level += c->held_db;
    f->level_by_energy += c->held_db * energy;
    f->reduction += c->reduction.value;
    if (at == c->frame_cells - 1) {
        const Curve curve = curve_ahead(c);
        frame_ends(f, &curve, c->frame_cells);
    }
}

/* What the voice says now is about the cell of lag_cells ago. */
static void hear_answer(Compressor *c)
{
    if (c->cells < c->lag_cells)
        return;
    const uint64_t cell = c->cells - c->lag_cells, frame = cell / c->frame_cells;
    c->frame[frame % COMPRESSOR_PENDING].voiced += voice_sounding(&c->voice);
    if (cell % c->frame_cells == c->frame_cells - 1)
        frame_done(c, frame);
}

/* A cell has ended. */
static void listen(Compressor *c)
{
    follow(c);
    hear_cell(c);
    hear_answer(c);
    ++c->cells;
    c->cell_energy = 0.0;
}

static void move_low_cut(Compressor *c)
{
    if (smooth_settled(&c->low_cut_hz))
        return;
    const Biquad b = design_high_pass(smooth_step(&c->low_cut_hz), sqrt(0.5), c->rate);
    sos_glide(&c->low_cut, 0, &b);
}

static void tick(void *dsp)
{
    Compressor *c = dsp;
    sos_hush(&c->low_cut);
    kweight_hush(&c->weight);
    c->reduction.first = dsp_hush(c->reduction.first);
    c->reduction.value = dsp_hush(c->reduction.value);
    if (c->listened && c->params.learn)
        listen(c);
    c->listened = c->params.learn;
    for (c->round.due += ROUND_STEPS * DSP_CELL / c->rate; c->round.due >= 1.0; c->round.due -= 1.0)
        round_step(c);
    slew(c);
    aim_threshold(c);
    aim_makeup(c);
    if (fabs(c->threshold.target - c->shown.threshold) > SHOWN_MOVED)
        forget_shown(c);
    move_low_cut(c);
}

/* ---- audio ---- */

static void hear(Compressor *c, const float *const *in, uint32_t n)
{
    float sum[DSP_CELL] = {0};
    const float *heard[DSP_CHANNELS];
    living_process(&c->living, in, heard, n);
    for (uint32_t t = 0; t < n; ++t) {
        double all = 0.0;
        for (uint32_t ch = 0; ch < c->channels; ++ch) {
            const float x = heard[ch][t];
            const double z = kweight_step(&c->weight, ch, x);
            c->cell_energy += z * z;
            all += x;
        }
        sum[t] = (float)(all / c->channels);
    }
    voice_process(&c->voice, sum, n);
}

static bool curve_moves(const Compressor *c)
{
    return !(smooth_settled(&c->threshold) && smooth_settled(&c->slope) && smooth_settled(&c->knee));
}

/* The reduction that this level asks for, in its own time. */
static double reduce(Compressor *c, float level)
{
    const float held = peak_hold_step(&c->hold, level);
    if (held != c->held || curve_moves(c)) {
        const Curve curve = {smooth_step(&c->threshold), smooth_step(&c->slope), smooth_step(&c->knee)};
        c->held_db = held == c->held ? c->held_db : gain_to_db((double)held);
        c->held = held;
        c->target = curve_reduction(&curve, c->held_db);
    }
    return follower_step(&c->reduction, smooth_step(&c->rise), smooth_step(&c->fall), c->target);
}

/* The reduction for the sample that comes out now; between two samples while the look-ahead moves. */
static double reduction_due(Compressor *c, double reduction)
{
    delay_push(&c->ahead, (float)reduction);
    const double behind = smooth_step(&c->behind);
    const uint32_t whole = (uint32_t)behind;
    const double part = behind - whole, later = delay_tap(&c->ahead, whole);
    return part > 0.0 ? later + part * (delay_tap(&c->ahead, whole + 1) - later) : later;
}

static double gain_for(Compressor *c, double reduction)
{
    const double db = smooth_step(&c->makeup) - reduction, share = smooth_step(&c->blend);
    if (db != c->wet_db) {
        c->wet_db = db;
        c->wet = exp(DB_TO_NEPER * db);
    }
    return (1.0 - share) + share * c->wet;
}

static void put_out_sample(const Compressor *c, double gain, float *const *out, uint32_t t)
{
    for (uint32_t ch = 0; ch < c->channels; ++ch)
        out[ch][t] = (float)(gain * delay_tap(&c->dry[ch], c->latency));
}

static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Compressor *c = dsp;
    float detector[DSP_CHANNELS][DSP_CELL] = {{0}};
    float *const heard[DSP_CHANNELS] = {detector[0], detector[1]};
    if (c->params.learn)
        hear(c, in, n);
    sos_process(&c->low_cut, in, heard, n);
    for (uint32_t t = 0; t < n; ++t) {
        float level = 0.f;
        for (uint32_t ch = 0; ch < c->channels; ++ch) {
            level = fmaxf(level, fabsf(detector[ch][t]));
            delay_push(&c->dry[ch], in[ch][t]);
        }
        c->reduction_out = reduction_due(c, reduce(c, level));
        put_out_sample(c, gain_for(c, c->reduction_out), out, t);
    }
}

/* On hold nobody measures: what the curve in force takes off the voice that was learned where that is loud. */
static double usual_reduction(const Compressor *c)
{
    const Curve curve = {c->threshold.value, c->slope.value, c->knee.value};
    if (c->params.learn)
        return c->shown.usual;
    return c->known ? curve_reduction(&curve, c->loud_target) : 0.0;
}

static void report(const void *dsp, void *to)
{
    const Compressor *c = dsp;
    CompressorReport *report = to;
    *report = (CompressorReport){.reduction = fmax(c->reduction_out, 0.0),
                                 .usual_reduction = usual_reduction(c),
                                 .threshold_now = c->threshold.value,
                                 .makeup_now = c->makeup.value};
}

static uint32_t latency(const void *dsp)
{
    const Compressor *c = dsp;
    return c->latency;
}

/* ---- what was learned ---- */

static uint32_t version(const void *dsp)
{
    const Compressor *c = dsp;
    return c->version;
}

static void put_out(Learned *learned, uint32_t field, const uint32_t *count, double unit)
{
    float *value = learned_field(&schema, learned, field);
    learned->count[field] = schema.field[field].max;
    for (uint32_t i = 0; i < learned->count[field]; ++i)
        value[i] = (float)(count[i] * unit);
}

static void take_in(const Learned *learned, uint32_t field, uint32_t *count, double unit)
{
    const float *value = learned->value + learned_at(&schema, field);
    for (uint32_t i = 0; i < learned->count[field]; ++i)
        count[i] = (uint32_t)(value[i] / unit + 0.5);
}

#define ENERGY_UNIT (1.0 / 256.0) /* what is stored has steps of that */

static void put_out_memory(Learned *learned, uint32_t first, const Levels *l)
{
    for (uint32_t field = first; field < first + MEMORY_FIELDS; ++field)
        learned->count[field] = 0;
    if (!l || !l->frames)
        return;
    put_out(learned, first + FIELD_LEVELS, l->count[0], 1.0);
    put_out(learned, first + FIELD_BLOCKS, l->blocks, 1.0);
    put_out(learned, first + FIELD_ENERGIES, l->energy[0][0], ENERGY_UNIT);
}

/* A memory's fields belong together: one missing, none counts. */
static void take_in_memory(const Learned *learned, uint32_t first, Levels *l)
{
    levels_clear(l);
    for (uint32_t field = first; field < first + MEMORY_FIELDS; ++field)
        if (learned->count[field] != schema.field[field].max)
            return;
    take_in(learned, first + FIELD_LEVELS, l->count[0], 1.0);
    take_in(learned, first + FIELD_BLOCKS, l->blocks, 1.0);
    take_in(learned, first + FIELD_ENERGIES, l->energy[0][0], ENERGY_UNIT);
    for (uint32_t b = 0; b < LEVELS_BINS; ++b)
        l->frames += l->count[0][b];
}

static void get(const void *dsp, Learned *learned)
{
    const Compressor *c = dsp;
    const Levels *filling = &c->memory[c->filling], *force = in_force(c);
    put_out_memory(learned, FIELD_LEVELS, filling);
    put_out_memory(learned, KEPT, force == filling ? NULL : force);
}

static void put(void *dsp, const Learned *learned)
{
    Compressor *c = dsp;
    take_in_memory(learned, FIELD_LEVELS, &c->memory[c->filling]);
    take_in_memory(learned, KEPT, &c->memory[1 - c->filling]);
    c->round.stage = 0; /* of what was there before */
    c->at_once = true;
    c->known = c->known && in_force(c);
    if (!c->known)
        c->found = 0.0;
    ++c->version;
}

const Processor compressor = {
    .size = sizeof(Compressor),
    .init = init,
    .done = done,
    .reset = reset,
    .set = set,
    .tick = tick,
    .cell = cell,
    .report = report,
    .latency = latency,
    .learned = {&schema, version, get, put},
};
