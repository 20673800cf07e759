#include "plate.h"

#include "design.h"
#include "four.h"
#include "lanes.h"
#include "plate_loops.h"
#include "units.h"

#include <math.h>
#include <stdlib.h>

enum { OUTS = PLATE_OUTS, STEPS = PLATE_STEPS };

enum { CLEARED = 1024 }; /* floats of the ring that one step of a pause clears */

#define LN_1000     6.907755278982137 /* 60 dB as the natural logarithm of an amplitude ratio */
#define CONTROL_TAU 0.04              /* s, time constant of the controls other than decay and damping */
#define DECAY_TAU   0.2               /* s, time constant of decay and damping, see tick() */
#define SILENT_DB   (-60.0)           /* dB, wet or dry level that is silence */

/* ---- Making ---- */

enum { LINE = 64 / sizeof(float) }; /* floats in a cache line; the ring is aligned to one */

static size_t floats_needed(const Plate *p)
{
    return ring_floats(&p->ring) + LINE;
}

static float *whole_line(float *memory)
{
    const size_t over = (uintptr_t)memory / sizeof *memory % LINE;
    return memory + (over ? LINE - over : 0);
}

static void init_controls(Plate *p)
{
    const double cells = p->rate / DSP_CELL;
    smooth_init(&p->decay, cells, DECAY_TAU);
    smooth_init(&p->damping, cells, DECAY_TAU);
    smooth_init(&p->low_cut, cells, CONTROL_TAU);
    smooth_init(&p->wet, cells, CONTROL_TAU);
    smooth_init(&p->dry, cells, CONTROL_TAU);
    smooth_init(&p->width, cells, CONTROL_TAU);
}

static void reset(void *dsp);
static void set(void *dsp, const void *wanted);

bool plate_init_with(Plate *p, uint32_t seed, double rate, uint32_t in_channels)
{
    p->rate = rate;
    p->in_channels = in_channels;
    plate_tables_draw(&p->tables, seed);
    plate_wait_init(&p->wait, &p->ring, rate, in_channels);
    plate_chain_place(&p->into, &p->ring, p->tables.into, rate);
    plate_tank_place(&p->tank, &p->ring, &p->tables, rate);
    plate_chain_place(&p->out, &p->ring, p->tables.out, rate);
    p->memory = calloc(floats_needed(p), sizeof *p->memory);
    if (!p->memory)
        return false;
    p->ring.slot = whole_line(p->memory);
    plate_level_init(&p->level, rate);
    init_controls(p);
    set(p, &(PlateParams){
               .pre_delay = 20, .decay = 2.2, .low_cut = 200, .damping = 6500, .wet = -20, .dry = 0, .width = 100});
    reset(p);
    return true;
}

static bool init(void *dsp, double rate, uint32_t in_channels)
{
    return plate_init_with(dsp, plate_tables_seed(rate), rate, in_channels);
}

static void done(void *dsp)
{
    Plate *p = dsp;
    free(p->memory);
    *p = (Plate){0};
}

/* Clears all states but the ring. */
static void clear_states(Plate *p)
{
    memset(p->tank.state, 0, sizeof p->tank.state);
    memset(p->cut, 0, sizeof p->cut);
    memset(p->heard, 0, sizeof p->heard);
    plate_shade_reset(&p->shade);
}

static void reset(void *dsp)
{
    Plate *p = dsp;
    p->floats = floats_needed(p);
    memset(p->memory, 0, p->floats * sizeof *p->memory);
    p->ring.at = 0;
    clear_states(p);
    Smooth *const all[] = {&p->decay, &p->damping, &p->low_cut, &p->wet, &p->dry, &p->width, NULL};
    for (Smooth *const *s = all; *s; ++s)
        smooth_restart_at_target(*s);
    p->fresh = true;
}

/* Clears the ring, or what comes after the pause would be heard with the old tail. In steps, as clearing it all at once
 * would cost one block too much. */
static bool pause(void *dsp)
{
    Plate *p = dsp;
    const size_t left = p->floats - p->cleared, now = left < CLEARED ? left : CLEARED;
    memset(p->memory + p->cleared, 0, now * sizeof *p->memory);
    p->cleared += now;
    clear_states(p);
    return p->cleared == p->floats;
}

/* ---- Controls ---- */

static double gain_or_silence(double db)
{
    return db > SILENT_DB ? db_to_gain(db) : 0.0;
}

static void set(void *dsp, const void *wanted)
{
    Plate *p = dsp;
    const PlateParams *params = wanted;
    smooth_to(&p->decay, log(params->decay));
    smooth_to(&p->damping, log(params->damping));
    smooth_to(&p->low_cut, log(params->low_cut));
    smooth_to(&p->wet, gain_or_silence(params->wet));
    smooth_to(&p->dry, gain_or_silence(params->dry));
    smooth_to(&p->width, params->width / 100.0);
    p->wait.wish = (uint32_t)lround(dsp_clamp(params->pre_delay / 1000.0, 0.0, PLATE_WAIT_LONGEST) * p->rate);
}

/* ---- Tuning ---- */

/* The gain into the first chain assumes this: an impulse of energy 1 on both inputs puts energy 1 into every line, and
 * each output hears every line once. */
static void tune(const Plate *p, PlateTune *t)
{
    const double decay = exp(p->decay.value), damping = exp(p->damping.value), low_cut = exp(p->low_cut.value);
    const double per_sample = -LN_1000 / (decay * p->rate);
    const double warped = tan(DSP_PI * fmin(damping / p->rate, 0.49));
    const Biquad cut = design_high_pass(low_cut, sqrt(0.5), p->rate);
    t->cut = svf_from_biquad(&cut);
    svf_block_of(&t->cut_block, &t->cut);
    plate_tank_tune(&p->tank, &p->tables, per_sample, warped, &t->tank);
    plate_shade_tune(&p->tank, per_sample, warped, &t->shade);
    const double kept = plate_chain_tune(&p->into, per_sample, t->into) * plate_chain_tune(&p->out, per_sample, t->out);
    const double power = kept * PLATE_LINES * PLATE_LINES / plate_tank_seconds(&p->tank, p->rate);
    const double energy = power * plate_level_seconds(&p->level, decay, damping, low_cut);
    t->feed = (float)sqrt(pow(0.5, STEPS) / energy);
}

static void move_tuning(Plate *p)
{
    const bool settled = smooth_settled(&p->decay) && smooth_settled(&p->damping) && smooth_settled(&p->low_cut);
    p->moving = !settled;
    if (settled && !p->fresh)
        return;
    p->from = p->goal;
    smooth_step(&p->decay);
    smooth_step(&p->damping);
    smooth_step(&p->low_cut);
    tune(p, &p->goal);
}

/* Width: scales the side signal of two uncorrelated channels, and both mid and side so that each channel keeps its
 * power. */
static void move_mix(Plate *p)
{
    const double wet = smooth_step(&p->wet), width = smooth_step(&p->width);
    const double scale = wet * sqrt(0.5 / (1.0 + width * width));
    p->mix_from = p->mix_goal;
    p->mix_goal.same = (float)(scale * (1.0 + width));
    p->mix_goal.other = (float)(scale * (1.0 - width));
    p->mix_goal.dry = (float)smooth_step(&p->dry);
    if (p->fresh)
        p->mix_from = p->mix_goal;
}

/* ---- Sound ---- */

/* Fills a cell with a straight line from `from` to `goal`. */
static void glide(float from, float goal, float *out)
{
    const float one = (goal - from) / DSP_CELL;
    const float first[FOUR] = {from + one, from + 2.f * one, from + 3.f * one, from + 4.f * one};
    const Four step = four_all(FOUR * one);
    Four x = four_load(first);
    for (uint32_t t = 0; t < DSP_CELL; t += FOUR, x = four_add(x, step))
        four_store(out + t, x);
}

/* Scales a cell. A cell too faint to be heard becomes 0, so that nothing after it gets denormal (plate_tank_feed()). */
static void amplify(const float *in, float from, float goal, float out[DSP_CELL])
{
    const uint32_t magnitude = plate_loops()->amplify(in, from, goal, out) & 0x7fffffff;
    if (magnitude && magnitude >> 23 < 0x40)
        memset(out, 0, DSP_CELL * sizeof *out);
}

/* Runs a cell through the low cut. from, goal: the tuning at the cell's ends. */
static void cut_lows(const PlateTune *from, const PlateTune *goal, SvfState *state, const float *in, float *out)
{
    const double first = 1.0 / DSP_CELL;
    if (from == goal) {
        SvfBegun none = {.filled = 0};
        svf_block_run(&goal->cut_block, state, &none, in, out, DSP_CELL);
    } else {
        double x[DSP_CELL];
        dsp_widen(x, in, DSP_CELL);
        lanes_glide(&from->cut, &goal->cut, &first, state, 1, x, DSP_CELL);
        dsp_narrow(out, x, DSP_CELL);
    }
    svf_hush(state);
}

/* Puts what came in since the last grid point through low cut and pre-delay into the tank. */
static void feed(Plate *p, const PlateTune *from)
{
    float x[DSP_CHANNELS][DSP_CELL];
    const float *late[DSP_CHANNELS];
    for (uint32_t c = 0; c < p->in_channels; ++c)
        cut_lows(from, &p->goal, &p->cut[c], p->heard[c], ring_place(&p->ring, p->wait.next[c]));
    plate_wait_run(&p->wait, &p->ring, p->in_channels, x, late);
    for (uint32_t c = 0; c < p->in_channels; ++c)
        amplify(late[c], from->feed, p->goal.feed, x[c]);
    const float *const in[] = {x[0], x[p->in_channels - 1]};
    plate_chain_run(&p->into, &p->ring, from->into, p->goal.into, in, (float *const[]){x[0], x[1]});
    plate_tank_feed(&p->tank, &p->ring, &from->tank, &p->goal.tank, x[0], x[1]);
}

static void hear(Plate *p, const PlateTune *from, float wet[OUTS][DSP_CELL])
{
    float taps[2 * OUTS][DSP_CELL];
    plate_tank_hear(&p->tank, &p->ring, &from->tank, &p->goal.tank, p->shade.far, taps);
    plate_shade_run(&p->shade, &from->shade, &p->goal.shade, taps, wet);
    const float *const in[] = {wet[0], wet[1]};
    plate_chain_run(&p->out, &p->ring, from->out, p->goal.out, in, (float *const[]){wet[0], wet[1]});
}

/* Applies width and wet gain, and prepares the dry gain for the coming samples. */
static void blend(Plate *p, float wet[OUTS][DSP_CELL])
{
    const float from[] = {p->mix_from.same, p->mix_from.other}, goal[] = {p->mix_goal.same, p->mix_goal.other};
    plate_loops()->blend(from, goal, wet, p->ready);
    glide(p->mix_from.dry, p->mix_goal.dry, p->dry_gain);
}

/* All of the wet sound is made here, a cell at a time, whatever pieces the host asks for. Every tap is at least a cell
 * late, so the input up to this grid point is enough for the wet sound up to the next.
 *
 * Decay and damping move slowly compared to the delay of a line, as sound fed into it at the old gain comes out of the
 * taps at the new one. */
static void tick(void *dsp)
{
    Plate *p = dsp;
    move_tuning(p);
    move_mix(p);
    plate_wait_move(&p->wait, p->fresh);
    const PlateTune *from = p->moving && !p->fresh ? &p->from : &p->goal;
    float wet[OUTS][DSP_CELL];
    feed(p, from);
    hear(p, from, wet);
    blend(p, wet);
    plate_tank_hush(&p->tank);
    ring_advance(&p->ring);
    p->at = 0;
    p->cleared = 0;
    p->fresh = false;
}

/* Adds the wet sound to the dry. Where the wet sound is silent it is not added, as adding 0 would lose the sign of a
 * zero. */
static inline void join(const float *restrict dry, const float *restrict gain, const float *restrict wet, bool silent,
                        float *restrict out, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i)
        out[i] = silent ? gain[i] * dry[i] : gain[i] * dry[i] + wet[i];
}

static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Plate *p = dsp;
    const uint32_t at = p->at;
    const bool silent = p->mix_from.same == 0.f && p->mix_goal.same == 0.f;
    for (uint32_t c = 0; c < p->in_channels; ++c)
        dsp_copy(p->heard[c] + at, in[c], n);
    for (uint32_t o = 0; o < OUTS; ++o) {
        const float *dry = p->heard[o < p->in_channels ? o : 0] + at;
        if (n == DSP_CELL && !silent) /* a count that the compiler knows */
            join(dry, p->dry_gain, p->ready[o], false, out[o], DSP_CELL);
        else
            join(dry, p->dry_gain + at, p->ready[o] + at, silent, out[o], n);
    }
    p->at += n;
}

const Processor plate = {
    .size = sizeof(Plate),
    .outs = OUTS,
    PROCESSOR_FUNCTIONS,
    .pause = pause,
};
