/* True peak: the highest magnitude of the signal at and between its samples, as ITU-R BS.1770-4/-5 Annex 2 asks for:
 * oversampled 4 times below 80 kHz, twice below 160 kHz, and the samples alone from there on.
 *
 * Filter: own design, made by true_peak_init(): one row of taps for each point, a sinc under a Kaiser window of beta 5,
 * 20 samples long, scaled to a gain of 1 at 0 Hz. Accuracy: within 0.05 dB of the sine's amplitude at every point up to
 * 0.42 of the sample rate. What lies between the points is missed: for a frequency f and n points a sample at most
 * 20 log10 cos(pi f / (n fs)), which is 0.55 dB at 0.45 fs and n = 4.
 *
 * Gaps. Samples are missing where two or more in a row are exactly 0, or one between two of the same sign. (A tone's
 * zero crossing has opposite signs beside it.) Points near a gap ring up to 2 dB over the sound and say nothing about
 * it, so points whose taps reach a gap do not count; the samples themselves always do. */
#ifndef LINCTUS_TRUE_PEAK_H
#define LINCTUS_TRUE_PEAK_H

#include "dsp.h"
#include "four_math.h"

enum {
    TRUE_PEAK_TAPS = 20,
    TRUE_PEAK_MORE = 3,                 /* points between two samples, at most */
    TRUE_PEAK_LAG = TRUE_PEAK_TAPS / 2, /* samples from a sound to its reading */
};

typedef struct {
    uint32_t between; /* points between two samples: 3, 1 or 0 */
    float tap[TRUE_PEAK_MORE][TRUE_PEAK_TAPS];
    float most; /* no point is higher than this times the highest sample it is made from */
    float past[DSP_CHANNELS][TRUE_PEAK_TAPS - 1];
    float sound[DSP_CHANNELS];    /* the last sample that was not 0 */
    uint32_t zeros[DSP_CHANNELS]; /* samples of 0 since then, counted up to 2 */
    uint32_t whole[DSP_CHANNELS]; /* samples since the last gap, counted up to TRUE_PEAK_TAPS */
} TruePeak;

/* Allocates nothing. rate: DSP_RATE_MIN..DSP_RATE_MAX. */
void true_peak_init(TruePeak *p, double rate);

/* As if silence had gone before. */
void true_peak_reset(TruePeak *p);

/* Highest magnitude among the points of these n samples, TRUE_PEAK_LAG samples late, or `known` if none lies above it
 * or n is 0. Cheap if few lie above it. Samples: finite. channel: 0..DSP_CHANNELS - 1. */
float true_peak_above(TruePeak *p, uint32_t channel, const float *in, float known, uint32_t n);

/* The same for each sample: peak[t] becomes the higher of itself and the highest point from the sample TRUE_PEAK_LAG
 * before in[t] up to the one after it. n: at most DSP_CELL. enough: peaks above it are exact; the others are at least
 * the magnitude of their sample, and not above `enough` nor above the exact value. 0: all are exact. Points that cannot
 * lie above `enough` are not worked out. */
void true_peak_points(TruePeak *p, uint32_t channel, const float *in, float enough, float *peak, uint32_t n);

/* true: no point that true_peak_points() would read next can lie above `limit`. span: four_span() of the samples to
 * come. */
bool true_peak_stays_under(const TruePeak *p, uint32_t channel, FourSpan span, float limit);

/* Takes in n samples in place of true_peak_points() where its answer is not needed. span: four_span() of them. */
void true_peak_skip(TruePeak *p, uint32_t channel, const float *in, FourSpan span, uint32_t n);

/* Highest magnitude of the samples alone, without the points between, that true_peak_points() would read next. */
float true_peak_sample(const TruePeak *p, uint32_t channel, const float *in, uint32_t n);

#endif
