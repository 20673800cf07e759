/* Loudness by ITU-R BS.1770-4/-5: K weighting, 400 ms blocks with 75 % overlap, an absolute gate at -70 LUFS and a
 * relative gate 10 LU below the mean of what passes that. Short-term loudness over 3 s by EBU Tech 3341. Mono and
 * stereo, channel weight 1. Levels in LUFS. (Loudness range: check_figures.h.) */
#ifndef LINCTUS_LOUDNESS_H
#define LINCTUS_LOUDNESS_H

#include "lanes.h"

/* K weighting alone, for processors that compare weighted energy before and after.
 *
 * Both stages are bilinear transforms of analog prototypes, fitted to the standard's 48 kHz table (they reproduce all
 * its digits), so that the curve is the same at every rate: within 0.002 dB at 44.1 kHz, and within 0.12 dB at any
 * rate for frequencies up to a tenth of it. The table's high-pass is not normalised: it has 0.043 dB of gain, which is
 * kept at every rate. */
typedef struct {
    Svf stage[2];
    SvfState state[DSP_CHANNELS][2];
} KWeight;

/* A stage's coefficients; stage 0: the shelf, 1: the high-pass. rate: DSP_RATE_MIN..DSP_RATE_MAX. */
Biquad kweight_design(uint32_t stage, double rate);

/* rate: DSP_RATE_MIN..DSP_RATE_MAX. */
void kweight_init(KWeight *k, double rate);
void kweight_reset(KWeight *k); /* silence */
void kweight_hush(KWeight *k);  /* once a cell: tiny states become 0 (dsp_hush()) */

/* Weights n samples of a channel in place; any n. */
void kweight_run(KWeight *k, uint32_t channel, double *x, uint32_t n);

/* Adds to *energy the weighted squares of n (0..DSP_CELL) samples of each channel, sample by sample, so that the sum
 * does not depend on how the samples are divided into calls. */
void kweight_add(KWeight *k, const float *const *in, uint32_t channels, uint32_t n, double *energy);

#define LOUDNESS_LOW (-70.0) /* LUFS: the absolute gate of BS.1770, and the reading for silence */

enum {
    LOUDNESS_BIN = 20,                  /* bins in 1 LU: gates to within half of one; chosen */
    LOUDNESS_BINS = 100 * LOUDNESS_BIN, /* from -70 to 30 LUFS; louder blocks count as 30 */
    LOUDNESS_HOPS = 30,                 /* hops of 100 ms in 3 s: EBU Tech 3341 */
};

/* A meter of momentary and short-term loudness alone; a 40th of the size of Loudness. */
typedef struct {
    KWeight weight;
    uint32_t channels, hop;     /* hop: samples in 100 ms, to the nearest */
    uint32_t at;                /* samples of the current hop so far */
    double sum;                 /* their weighted energy, over all channels */
    double mean[LOUDNESS_HOPS]; /* mean energy of each of the last hops */
    uint64_t hops;              /* whole hops since the reset */
} LoudnessNow;

/* rate: DSP_RATE_MIN..DSP_RATE_MAX, channels: 1..DSP_CHANNELS. Allocates nothing. */
void loudness_now_init(LoudnessNow *l, double rate, uint32_t channels);
void loudness_now_reset(LoudnessNow *l); /* back to the state before the first sample */

/* Takes in n finite samples of each channel; any n. */
void loudness_now_process(LoudnessNow *l, const float *const *in, uint32_t n);

/* LUFS over the last 400 ms and the last 3 s, updated every 100 ms. LOUDNESS_LOW or less: silence, or too little heard.
 */
double loudness_now_momentary(const LoudnessNow *l);
double loudness_now_short_term(const LoudnessNow *l);

/* A full meter; momentary and short-term loudness are those of `now`. Blocks are kept as counts by level, each bin with
 * its energy: hours fit in the same memory, the means are exact, and only the gates are rounded, to 0.05 LU. */
typedef struct {
    LoudnessNow now;
    uint32_t count[LOUDNESS_BINS];
    double energy[LOUDNESS_BINS];
} Loudness;

/* Makes it a fresh meter, whatever it held. rate: DSP_RATE_MIN..DSP_RATE_MAX, channels: 1..DSP_CHANNELS. Allocates
 * nothing. */
void loudness_init(Loudness *l, double rate, uint32_t channels);

/* Takes in n finite samples of each channel; any n. */
void loudness_process(Loudness *l, const float *const *in, uint32_t n);

/* Integrated loudness, LUFS, of everything since loudness_init(); LOUDNESS_LOW while nothing passes the gates. Walks
 * the whole memory: do not call it for every sample. */
double loudness_integrated(const Loudness *l);

#endif
