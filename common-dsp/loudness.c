#include "loudness.h"

#include "units.h"

#include <string.h>

enum { BLOCK_HOPS = 4 }; /* hops of 100 ms in a block of 400 ms: BS.1770 */

/* The analog prototypes, solved so that they give the table of BS.1770 at 48 kHz. */
#define SHELF_HZ       1681.974450955533 /* Hz, midpoint of the shelf */
#define SHELF_DB       3.999843853973347 /* dB at high frequencies */
#define SHELF_Q        0.7071752369554196
#define SHELF_EXPONENT 0.4996667741545403 /* of the middle term; 0.5 in a plain second-order shelf */
#define PASS_HZ        38.13547087602444  /* Hz, corner of the high-pass */
#define PASS_Q         0.5003270373238773
#define TABLE_RATE     48000.0 /* Hz, rate of the table */

static Biquad shelf(double rate)
{
    const double t = tan(DSP_PI * SHELF_HZ / rate), t2 = t * t, tq = t / SHELF_Q;
    const double high = db_to_gain(SHELF_DB), middle = pow(high, SHELF_EXPONENT);
    const double a0 = 1.0 + tq + t2;
    return (Biquad){.b0 = (high + middle * tq + t2) / a0,
                    .b1 = 2.0 * (t2 - high) / a0,
                    .b2 = (high - middle * tq + t2) / a0,
                    .a1 = 2.0 * (t2 - 1.0) / a0,
                    .a2 = (1.0 - tq + t2) / a0};
}

static double pass_a0(double rate)
{
    const double t = tan(DSP_PI * PASS_HZ / rate);
    return 1.0 + t / PASS_Q + t * t;
}

static Biquad pass(double rate)
{
    const double t = tan(DSP_PI * PASS_HZ / rate), t2 = t * t, a0 = pass_a0(rate);
    const double b0 = rate == TABLE_RATE ? 1.0 : pass_a0(TABLE_RATE) / a0;
    return (Biquad){
        .b0 = b0, .b1 = -2.0 * b0, .b2 = b0, .a1 = 2.0 * (t2 - 1.0) / a0, .a2 = (1.0 - t / PASS_Q + t2) / a0};
}

Biquad kweight_design(uint32_t stage, double rate)
{
    return stage ? pass(rate) : shelf(rate);
}

void kweight_init(KWeight *k, double rate)
{
    for (uint32_t stage = 0; stage < 2; ++stage) {
        const Biquad b = kweight_design(stage, rate);
        k->stage[stage] = svf_from_biquad(&b);
    }
    kweight_reset(k);
}

void kweight_reset(KWeight *k)
{
    memset(k->state, 0, sizeof k->state);
}

void kweight_hush(KWeight *k)
{
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        for (uint32_t stage = 0; stage < 2; ++stage)
            svf_hush(&k->state[c][stage]);
}

void kweight_run(KWeight *k, uint32_t channel, double *x, uint32_t n)
{
    lanes_run(k->stage, k->state[channel], 2, x, n);
}

void kweight_add(KWeight *k, const float *const *in, uint32_t channels, uint32_t n, double *energy)
{
    double x[DSP_CHANNELS][DSP_CELL], sum = *energy;
    dsp_widen(x[0], in[0], n);
    if (channels == 2) {
        dsp_widen(x[1], in[1], n);
        lanes_run_both(k->stage, (SvfState *const[]){k->state[0], k->state[1]}, 2, (double *const[]){x[0], x[1]}, n);
        for (uint32_t t = 0; t < n; ++t)
            sum = sum + x[0][t] * x[0][t] + x[1][t] * x[1][t];
    } else {
        kweight_run(k, 0, x[0], n);
        for (uint32_t t = 0; t < n; ++t)
            sum += x[0][t] * x[0][t];
    }
    *energy = sum;
}

/* ---- Now ---- */

void loudness_now_init(LoudnessNow *l, double rate, uint32_t channels)
{
    memset(l, 0, sizeof *l);
    kweight_init(&l->weight, rate);
    l->channels = channels;
    l->hop = (uint32_t)(rate / 10.0 + 0.5);
}

void loudness_now_reset(LoudnessNow *l)
{
    kweight_reset(&l->weight);
    l->at = 0;
    l->sum = 0.0;
    l->hops = 0;
}

static double to_lufs(double energy)
{
    return -0.691 + power_to_db(energy);
}

/* Mean energy of the last n hops; 0 while fewer were heard. */
static double mean_of_last(const LoudnessNow *l, uint32_t n)
{
    double sum = 0.0;
    if (l->hops < n)
        return sum;
    for (uint32_t i = 1; i <= n; ++i)
        sum += l->mean[(l->hops - i) % LOUDNESS_HOPS];
    return sum / n;
}

static void end_hop(LoudnessNow *l)
{
    l->mean[l->hops % LOUDNESS_HOPS] = l->sum / l->hop;
    ++l->hops;
    l->sum = 0.0;
    l->at = 0;
}

static uint32_t least(uint32_t a, uint32_t b)
{
    return a < b ? a : b;
}

/* Takes in samples up to the end of the hop or of a cell, at most n; returns how many. */
static uint32_t take_piece(LoudnessNow *l, const float *const *in, uint32_t from, uint32_t n)
{
    const uint32_t m = least(n, least(l->hop - l->at, DSP_CELL - l->at % DSP_CELL));
    const float *const piece[DSP_CHANNELS] = {in[0] + from, l->channels == 2 ? in[1] + from : NULL};
    kweight_add(&l->weight, piece, l->channels, m, &l->sum);
    l->at += m;
    if (l->at % DSP_CELL == 0)
        kweight_hush(&l->weight);
    if (l->at == l->hop)
        end_hop(l);
    return m;
}

void loudness_now_process(LoudnessNow *l, const float *const *in, uint32_t n)
{
    for (uint32_t t = 0; t < n;)
        t += take_piece(l, in, t, n - t);
}

double loudness_now_momentary(const LoudnessNow *l)
{
    return fmax(to_lufs(mean_of_last(l, BLOCK_HOPS)), LOUDNESS_LOW);
}

double loudness_now_short_term(const LoudnessNow *l)
{
    return fmax(to_lufs(mean_of_last(l, LOUDNESS_HOPS)), LOUDNESS_LOW);
}

/* ---- With a memory ---- */

void loudness_init(Loudness *l, double rate, uint32_t channels)
{
    memset(l, 0, sizeof *l);
    loudness_now_init(&l->now, rate, channels);
}

static void remember_block(Loudness *l)
{
    const double energy = mean_of_last(&l->now, BLOCK_HOPS), level = to_lufs(energy);
    if (level <= LOUDNESS_LOW)
        return;
    const double bin = fmin((level - LOUDNESS_LOW) * LOUDNESS_BIN, LOUDNESS_BINS - 1);
    ++l->count[(uint32_t)bin];
    l->energy[(uint32_t)bin] += energy;
}

void loudness_process(Loudness *l, const float *const *in, uint32_t n)
{
    for (uint32_t t = 0; t < n;) {
        t += take_piece(&l->now, in, t, n - t);
        if (l->now.at == 0 && l->now.hops >= BLOCK_HOPS)
            remember_block(l);
    }
}

/* Mean energy of the blocks in bins `first` and up; 0 when those are empty. */
static double mean_from(const Loudness *l, uint32_t first)
{
    double blocks = 0.0, energy = 0.0;
    for (uint32_t b = first; b < LOUDNESS_BINS; ++b) {
        blocks += l->count[b];
        energy += l->energy[b];
    }
    return blocks > 0.0 ? energy / blocks : 0.0;
}

/* The first bin above the relative gate. */
static uint32_t gate(const Loudness *l)
{
    const double level = to_lufs(mean_from(l, 0)) - 10.0;
    return (uint32_t)dsp_clamp(round((level - LOUDNESS_LOW) * LOUDNESS_BIN), 0.0, LOUDNESS_BINS - 1);
}

double loudness_integrated(const Loudness *l)
{
    return fmax(to_lufs(mean_from(l, gate(l))), LOUDNESS_LOW);
}
