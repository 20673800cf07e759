#include "compressor_gain.h"

#include "design.h"
#include "even_loudness.h"
#include "four_math.h"
#include "units.h"

#include <math.h>
#include <string.h>

#define LOOK_AHEAD  0.005              /* s: the longest look-ahead, and the latency */
#define HOLD_TIME   0.012              /* s: the whole period of a note from 84 Hz up (compressor.md) */
#define CONTROL_TAU 0.025              /* s: each pole of the smoothing of a control */
#define CURVE_TAU   0.05               /* s: the same of the curve; the makeup falls faster, so that nothing bursts */
#define DB_TO_LOG2  0.166096404744368f /* log2(10) / 20: dB to the exponent of 2 */
#define LOG2_TO_DB  6.02059991327962f  /* its inverse */
#define LEAST_LEVEL 1e-10f             /* linear, -200 dB: lower levels read as this */

/* ---- Making and clearing ---- */

static void smooth_all(CompressorGain *g, double rate)
{
    smooth_init(&g->threshold, rate, CURVE_TAU);
    smooth_init(&g->slope, rate, CURVE_TAU);
    smooth_init(&g->knee, rate, CURVE_TAU);
    smooth_init(&g->rise, rate, CONTROL_TAU);
    smooth_init(&g->fall, rate, CONTROL_TAU);
    smooth_init(&g->behind, rate, CONTROL_TAU);
    smooth_init(&g->blend, rate, CONTROL_TAU);
    smooth_init(&g->makeup, rate, EVEN_GLIDE);
    smooth_init(&g->low_cut_hz, rate / DSP_CELL, CONTROL_TAU);
}

bool compressor_gain_init(CompressorGain *g, double rate, uint32_t channels)
{
    memset(g, 0, sizeof *g);
    g->rate = rate;
    g->channels = channels;
    g->latency = (uint32_t)lround(LOOK_AHEAD * rate);
    sos_init(&g->low_cut, 1, channels);
    bool ok = cell_hold_init(&g->hold, (uint32_t)(HOLD_TIME * rate));
    ok = delay_init(&g->ahead, g->latency + 1) && ok;
    return delays_init(g->dry, channels, g->latency) && ok;
}

void compressor_gain_done(CompressorGain *g)
{
    cell_hold_done(&g->hold);
    delay_done(&g->ahead);
    delays_done(g->dry);
}

void compressor_gain_let_go(CompressorGain *g)
{
    cell_hold_reset(&g->hold);
    g->held = g->target = 0.f;
    g->reduction = (Follower){0};
    g->reduction_out = 0.0;
    delay_reset(&g->ahead);
}

void compressor_gain_reset(CompressorGain *g)
{
    sos_reset(&g->low_cut);
    memset(g->begun, 0, sizeof g->begun);
    g->cut_moved = true;
    smooth_all(g, g->rate);
    compressor_gain_let_go(g);
    delays_reset(g->dry, g->channels);
}

/* ---- Targets ---- */

static Biquad low_cut_at(const CompressorGain *g, double hz)
{
    return design_high_pass(hz, sqrt(0.5), g->rate);
}

static void jump_low_cut(CompressorGain *g, double hz)
{
    const Biquad b = low_cut_at(g, hz);
    sos_jump(&g->low_cut, 0, &b);
    g->cut_moved = true;
    smooth_jump(&g->low_cut_hz, hz);
}

static void move_low_cut(CompressorGain *g)
{
    if (!smooth_settled(&g->low_cut_hz)) {
        const Biquad b = low_cut_at(g, smooth_step(&g->low_cut_hz));
        sos_glide(&g->low_cut, 0, &b);
        g->cut_moved = true;
    }
    if (g->cut_moved && !g->low_cut.glide[0]) {
        svf_block_of(&g->cut, &g->low_cut.now[0]);
        g->cut_moved = false;
    }
}

void compressor_gain_set(CompressorGain *g, const CompressorGainParams *params, bool at_once, bool times_moved)
{
    if (times_moved) {
        smooth_to(&g->rise, follower_keep(params->attack, g->rate));
        smooth_to(&g->fall, follower_keep(params->release, g->rate));
    }
    smooth_to(&g->slope, params->slope);
    smooth_to(&g->knee, params->knee);
    smooth_to(&g->behind, g->latency - round(fmin(params->look_ahead * g->rate, g->latency)));
    smooth_to(&g->blend, params->blend);
    smooth_to(&g->low_cut_hz, params->low_cut);
    if (!at_once)
        return;
    jump_low_cut(g, params->low_cut);
    smooth_restart(&g->threshold);
}

void compressor_gain_aim(CompressorGain *g, double threshold, double makeup)
{
    smooth_to(&g->threshold, threshold);
    smooth_to(&g->makeup, makeup);
}

void compressor_gain_tick(CompressorGain *g)
{
    sos_hush(&g->low_cut);
    g->reduction.first = dsp_hush(g->reduction.first);
    g->reduction.value = dsp_hush(g->reduction.value);
    move_low_cut(g);
}

double compressor_gain_level(const CompressorGain *g)
{
    return gain_to_db((double)g->held);
}

/* ---- Audio: stage after stage, each over what the host wants of a cell ---- */

/* Stages work on multiples of four samples: sets those beyond n to 0. */
static void fill_up(float *x, uint32_t n)
{
    for (; n % FOUR; ++n)
        x[n] = 0.f;
}

/* The length is a constant, so that the compiler takes several values at once. */
static void narrow(const double value[DSP_CELL], float to[DSP_CELL])
{
    for (uint32_t t = 0; t < DSP_CELL; ++t)
        to[t] = (float)value[t];
}

/* A control's next n values. */
static void glide(Smooth *s, float value[DSP_CELL], uint32_t n)
{
    const Four rest = four_all((float)s->value);
    if (smooth_settled(s)) {
        for (uint32_t t = 0; t < n; t += FOUR)
            four_store(value + t, rest);
        return;
    }
    double way[DSP_CELL] = {0.0};
    smooth_run(s, way, n);
    narrow(way, value);
}

/* The next n values of two controls that mostly move together. */
static void glide_both(Smooth *a, float value_a[DSP_CELL], Smooth *b, float value_b[DSP_CELL], uint32_t n)
{
    if (smooth_settled(a) || smooth_settled(b)) {
        glide(a, value_a, n);
        glide(b, value_b, n);
        return;
    }
    double way_a[DSP_CELL] = {0.0}, way_b[DSP_CELL] = {0.0};
    smooth_run_both(a, way_a, b, way_b, n);
    narrow(way_a, value_a);
    narrow(way_b, value_b);
}

static void cut_low(CompressorGain *g, const float *const *in, float *const *out, uint32_t n)
{
    if (g->low_cut.glide[0])
        sos_process(&g->low_cut, in, out, n);
    else
        for (uint32_t c = 0; c < g->channels; ++c)
            /* NOLINTNEXTLINE(clang-analyzer-core.CallAndMessage): there are at most DSP_CHANNELS */
            svf_block_run(&g->cut, &g->low_cut.state[c][0], &g->begun[c], in[c], out[c], n);
}

/* What the detector reads: the larger of the channels' magnitudes, held. */
static void detect(CompressorGain *g, const float *const *in, float *held, uint32_t n)
{
    float heard[DSP_CHANNELS][DSP_CELL] = {{0.f}}; /* samples beyond n count for nothing */
    float *const low_cut[DSP_CHANNELS] = {heard[0], heard[1]};
    cut_low(g, in, low_cut, n);
    for (uint32_t t = 0; t < n; t += FOUR) {
        Four level = four_abs(four_load(heard[0] + t));
        if (g->channels > 1)
            level = four_max(level, four_abs(four_load(heard[1] + t)));
        four_store(held + t, level);
    }
    cell_hold_run(&g->hold, held, held, n);
    fill_up(held, n);
}

/* curve_reduction() (curve.h) without a branch: the part within the knee plus the part above it. */
static inline Four curve_at(Four level, Four threshold, Four slope, Four knee)
{
    const Four nothing = four_all(0.f), half = four_mul(knee, four_all(0.5f)), over = four_sub(level, threshold);
    const Four into = four_min(four_max(four_add(over, half), nothing), knee);
    const Four bend = four_div(four_all(0.5f), four_max(knee, four_all(1e-6f)));
    const Four bent = four_mul(four_mul(into, into), bend), straight = four_max(four_sub(over, half), nothing);
    return four_mul(slope, four_add(bent, straight));
}

static bool curve_rests(const CompressorGain *g)
{
    return smooth_settled(&g->threshold) && smooth_settled(&g->slope) && smooth_settled(&g->knee);
}

static bool all_are(float value, const float *x, uint32_t n)
{
    for (uint32_t t = 0; t < n; ++t)
        if (x[t] != value)
            return false;
    return true;
}

/* dB that the curve turns each held level down by. rests: the curve does not move. */
static void ask(CompressorGain *g, const float *held, bool rests, const float *threshold, float *target, uint32_t n)
{
    if (rests && all_are(g->held, held, n)) {
        for (uint32_t t = 0; t < n; ++t)
            target[t] = g->target;
        return;
    }
    float slope[DSP_CELL], knee[DSP_CELL];
    glide(&g->slope, slope, n);
    glide(&g->knee, knee, n);
    for (uint32_t t = 0; t < n; t += FOUR) {
        const Four loud = four_log2(four_max(four_load(held + t), four_all(LEAST_LEVEL)));
        const Four db = four_mul(loud, four_all(LOG2_TO_DB));
        four_store(target + t, curve_at(db, four_load(threshold + t), four_load(slope + t), four_load(knee + t)));
    }
    /* NOLINTBEGIN(clang-analyzer-core.uninitialized.Assign): n is 1 or more */
    g->held = held[n - 1];
    g->target = target[n - 1];
    /* NOLINTEND(clang-analyzer-core.uninitialized.Assign) */
}

/* Gives the reduction its attack and release. */
static void follow(CompressorGain *g, const float *target, float *reduction, uint32_t n)
{
    const uint32_t run = smooth_settled(&g->rise) && smooth_settled(&g->fall) ? n : 1;
    for (uint32_t t = 0; t < n; t += run)
        follower_run(&g->reduction, smooth_step(&g->rise), smooth_step(&g->fall), target + t, reduction + t, run);
}

/* The reduction for the samples that come out now, interpolated while the look-ahead moves. */
static void wait(CompressorGain *g, const float *reduction, float *due, uint32_t n)
{
    delay_write(&g->ahead, reduction, n);
    if (smooth_settled(&g->behind)) { /* at a whole number */
        delay_read(&g->ahead, (uint32_t)g->behind.value, due, n);
        return;
    }
    for (uint32_t t = 0; t < n; ++t) {
        const double behind = smooth_step(&g->behind);
        const uint32_t whole = (uint32_t)behind, ago = n - 1 - t + whole;
        const double part = behind - whole, later = delay_tap(&g->ahead, ago);
        due[t] = (float)(later + part * (delay_tap(&g->ahead, ago + (part > 0.0)) - later));
    }
}

static void work_out_gain(CompressorGain *g, float *due, const float *makeup, float *gain, uint32_t n)
{
    float share[DSP_CELL];
    glide(&g->blend, share, n);
    fill_up(due, n);
    for (uint32_t t = 0; t < n; t += FOUR) {
        const Four db = four_sub(four_load(makeup + t), four_load(due + t)), part = four_load(share + t);
        const Four wet = four_exp2(four_mul(db, four_all(DB_TO_LOG2)));
        four_store(gain + t, four_add(four_sub(four_all(1.f), part), four_mul(part, wet)));
    }
}

static void put_out(CompressorGain *g, const float *gain, const float *const *in, float *const *out, uint32_t n)
{
    float dry[DSP_CHANNELS][DSP_CELL];
    for (uint32_t c = 0; c < g->channels; ++c) {
        delay_process(&g->dry[c], g->latency, in[c], dry[c], n);
        fill_up(dry[c], n);
    }
    for (uint32_t c = 0; c < g->channels; ++c) {
        for (uint32_t t = 0; t < n; t += FOUR)
            four_store(dry[c] + t, four_mul(four_load(gain + t), four_load(dry[c] + t)));
        dsp_copy(out[c], dry[c], n);
    }
}

void compressor_gain_process(CompressorGain *g, const float *const *in, float *const *out, uint32_t n)
{
    float held[DSP_CELL], reduction[DSP_CELL], due[DSP_CELL], gain[DSP_CELL], threshold[DSP_CELL], makeup[DSP_CELL];
    const bool rests = curve_rests(g);
    detect(g, in, held, n);
    glide_both(&g->threshold, threshold, &g->makeup, makeup, n);
    ask(g, held, rests, threshold, reduction, n);
    follow(g, reduction, reduction, n);
    wait(g, reduction, due, n);
    g->reduction_out = (double)due[n - 1];
    work_out_gain(g, due, makeup, gain, n);
    put_out(g, gain, in, out, n);
}
