#include "compressor_gain.h"

#include "design.h"
#include "even_loudness.h"
#include "units.h"

#include <math.h>
#include <string.h>

#define LATENCY     0.005 /* s */
#define HOLD        0.012 /* s: the whole period of a note from 84 Hz up (compressor.md) */
#define GLIDE       0.025 /* s, each pole of the smoothing of a control */
#define GLIDE_CURVE 0.05  /* s, of the curve's: slower than the makeup falls, or a smaller wish would make a burst */
#define DB_TO_NEPER 0.11512925464970228

/* ---- Making and clearing ---- */

static void smooth_all(CompressorGain *g, double rate)
{
    smooth_init(&g->threshold, rate, GLIDE_CURVE);
    smooth_init(&g->slope, rate, GLIDE_CURVE);
    smooth_init(&g->knee, rate, GLIDE_CURVE);
    smooth_init(&g->rise, rate, GLIDE);
    smooth_init(&g->fall, rate, GLIDE);
    smooth_init(&g->behind, rate, GLIDE);
    smooth_init(&g->blend, rate, GLIDE);
    smooth_init(&g->makeup, rate, EVEN_GLIDE);
    smooth_init(&g->low_cut_hz, rate / DSP_CELL, GLIDE);
}

bool compressor_gain_init(CompressorGain *g, double rate, uint32_t channels)
{
    memset(g, 0, sizeof *g);
    g->rate = rate;
    g->channels = channels;
    g->latency = (uint32_t)lround(LATENCY * rate);
    sos_init(&g->low_cut, 1, channels);
    bool ok = peak_hold_init(&g->hold, (uint32_t)(HOLD * rate));
    ok = delay_init(&g->ahead, g->latency + 1) && ok;
    for (uint32_t ch = 0; ch < channels; ++ch)
        ok = delay_init(&g->dry[ch], g->latency) && ok;
    return ok;
}

void compressor_gain_done(CompressorGain *g)
{
    peak_hold_done(&g->hold);
    delay_done(&g->ahead);
    for (uint32_t ch = 0; ch < DSP_CHANNELS; ++ch)
        delay_done(&g->dry[ch]);
}

void compressor_gain_let_go(CompressorGain *g)
{
    peak_hold_reset(&g->hold);
    g->held = 0.f;
    g->held_db = UNITS_DB_FLOOR;
    g->reduction = (Follower){0};
    g->target = g->reduction_out = 0.0;
    delay_reset(&g->ahead);
}

void compressor_gain_reset(CompressorGain *g)
{
    sos_reset(&g->low_cut);
    smooth_all(g, g->rate);
    compressor_gain_let_go(g);
    for (uint32_t ch = 0; ch < g->channels; ++ch)
        delay_reset(&g->dry[ch]);
    g->wet_db = 0.0;
    g->wet = 1.0;
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
    smooth_jump(&g->low_cut_hz, hz);
}

static void move_low_cut(CompressorGain *g)
{
    if (smooth_settled(&g->low_cut_hz))
        return;
    const Biquad b = low_cut_at(g, smooth_step(&g->low_cut_hz));
    sos_glide(&g->low_cut, 0, &b);
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

/* ---- Audio ---- */

static bool curve_moves(const CompressorGain *g)
{
    return !(smooth_settled(&g->threshold) && smooth_settled(&g->slope) && smooth_settled(&g->knee));
}

/* The reduction that this level asks for, in its own time. */
static double reduce(CompressorGain *g, float level)
{
    const float held = peak_hold_step(&g->hold, level);
    if (held != g->held || curve_moves(g)) {
        const Curve curve = {smooth_step(&g->threshold), smooth_step(&g->slope), smooth_step(&g->knee)};
        g->held_db = held == g->held ? g->held_db : gain_to_db((double)held);
        g->held = held;
        g->target = curve_reduction(&curve, g->held_db);
    }
    return follower_step(&g->reduction, smooth_step(&g->rise), smooth_step(&g->fall), g->target);
}

/* The reduction for the sample that comes out now; between two samples while the look-ahead moves. */
static double reduction_due(CompressorGain *g, double reduction)
{
    delay_push(&g->ahead, (float)reduction);
    const double behind = smooth_step(&g->behind);
    const uint32_t whole = (uint32_t)behind;
    const double part = behind - whole, later = delay_tap(&g->ahead, whole);
    return part > 0.0 ? later + part * (delay_tap(&g->ahead, whole + 1) - later) : later;
}

static double gain_for(CompressorGain *g, double reduction)
{
    const double db = smooth_step(&g->makeup) - reduction, share = smooth_step(&g->blend);
    if (db != g->wet_db) {
        g->wet_db = db;
        g->wet = exp(DB_TO_NEPER * db);
    }
    return (1.0 - share) + share * g->wet;
}

static void put_out_sample(const CompressorGain *g, double gain, float *const *out, uint32_t t)
{
    for (uint32_t ch = 0; ch < g->channels; ++ch)
        out[ch][t] = (float)(gain * delay_tap(&g->dry[ch], g->latency));
}

void compressor_gain_process(CompressorGain *g, const float *const *in, float *const *out, uint32_t n)
{
    float detector[DSP_CHANNELS][DSP_CELL] = {{0}};
    float *const low_cut[DSP_CHANNELS] = {detector[0], detector[1]};
    sos_process(&g->low_cut, in, low_cut, n);
    for (uint32_t t = 0; t < n; ++t) {
        float level = 0.f;
        for (uint32_t ch = 0; ch < g->channels; ++ch) {
            level = fmaxf(level, fabsf(detector[ch][t]));
            delay_push(&g->dry[ch], in[ch][t]);
        }
        g->reduction_out = reduction_due(g, reduce(g, level));
        put_out_sample(g, gain_for(g, g->reduction_out), out, t);
    }
}
