/* Loudness by ITU-R BS.1770-4/-5: K weighting, 400 ms blocks with 75 % overlap, gates at -70 LUFS and 10 LU below the
 * mean of what is left; short-term loudness over 3 s and loudness range by EBU Tech 3341 and 3342. Mono and stereo,
 * channel weight 1. Levels in LUFS, ranges in LU. */
#ifndef LINCTUS_LOUDNESS_H
#define LINCTUS_LOUDNESS_H

#include "lanes.h"

/* K weighting alone: for processors that compare weighted energy before and after.
 *
 * Both stages come from analog prototypes by the bilinear transform, fitted to the standard's 48 kHz table (they
 * reproduce all its digits), so that the curve is the same at every rate: within 0.002 dB at 44.1 kHz, 0.12 dB at any
 * rate up to a tenth of it. The table's high-pass is not normalised: it gains 0.043 dB. That gain is kept at every
 * rate. */
typedef struct {
    Svf stage[2];
    SvfState state[DSP_CHANNELS][2];
} KWeight;

/* The two stages as they are: stage 0 the shelf, stage 1 the high-pass. rate: DSP_RATE_MIN..DSP_RATE_MAX. */
Biquad kweight_design(uint32_t stage, double rate);

/* rate: DSP_RATE_MIN..DSP_RATE_MAX. Reset: silent. */
void kweight_init(KWeight *k, double rate);
void kweight_reset(KWeight *k);
void kweight_hush(KWeight *k); /* once a cell */

/* n samples of a channel, in place; any n. */
void kweight_run(KWeight *k, uint32_t channel, double *x, uint32_t n);

/* Adds the weighted energy of n (0..DSP_CELL) samples of so many channels, sample by sample, so that the sum is the
 * same however they are cut. */
void kweight_add(KWeight *k, const float *const *in, uint32_t channels, uint32_t n, double *energy);

#define LOUDNESS_LOW (-70.0) /* LUFS: the absolute gate, and what silence reads */

enum {
    LOUDNESS_BIN = 20,                  /* bins of the memory per LU */
    LOUDNESS_BINS = 100 * LOUDNESS_BIN, /* from -70 to 30 LUFS; louder blocks count as that loud */
    LOUDNESS_HOPS = 30,                 /* hops of 100 ms in 3 s */
};

/* How loud it is now: a meter without a memory, 80 times smaller. Allocates nothing. */
typedef struct {
    KWeight weight;
    uint32_t channels, hop;     /* samples in 100 ms, to the nearest */
    uint32_t at;                /* samples into the current hop */
    double sum;                 /* their weighted energy, over the channels */
    double mean[LOUDNESS_HOPS]; /* mean energy of the last hops */
    uint64_t hops;              /* heard since the reset */
} LoudnessNow;

/* channels: 1..DSP_CHANNELS. */
void loudness_now_init(LoudnessNow *l, double rate, uint32_t channels);
void loudness_now_reset(LoudnessNow *l); /* nothing was heard */

/* Any n. Finite samples. */
void loudness_now_process(LoudnessNow *l, const float *const *in, uint32_t n);

/* Over the last 400 ms and the last 3 s, in steps of 100 ms; LOUDNESS_LOW or less: silence, or too little heard. */
double loudness_now_momentary(const LoudnessNow *l);
double loudness_now_short_term(const LoudnessNow *l);

/* A meter. What it has heard is kept as counts over level, each with its energy: hours fit in the same memory, the
 * means are exact, and only the gates fall on a step of 0.05 LU. Allocates nothing. */
typedef struct {
    LoudnessNow now;
    uint32_t block_count[LOUDNESS_BINS], short_count[LOUDNESS_BINS];
    double block_energy[LOUDNESS_BINS], short_energy[LOUDNESS_BINS];
} Loudness;

/* channels: 1..DSP_CHANNELS. */
void loudness_init(Loudness *l, double rate, uint32_t channels);
void loudness_reset(Loudness *l); /* nothing was heard */

/* Any n. Finite samples. */
void loudness_process(Loudness *l, const float *const *in, uint32_t n);

/* As loudness_now_momentary() and loudness_now_short_term(). */
double loudness_momentary(const Loudness *l);
double loudness_short_term(const Loudness *l);

/* Of everything since the reset; they walk the memory: not for every sample. LOUDNESS_LOW and 0 while nothing passes
 * the gates. The range is taken from short-term values every 100 ms: 10th to 95th percentile of those above -70 LUFS
 * and above 20 LU below their mean (EBU Tech 3342). */
double loudness_integrated(const Loudness *l);
double loudness_range(const Loudness *l);

#endif
