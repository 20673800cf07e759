/* True peak: the highest magnitude of the signal between its samples too, as ITU-R BS.1770-4/-5 Annex 2 asks for: 4
 * times as many points below 80 kHz, twice as many below 160 kHz, the samples themselves from there on.
 *
 * Filter: own design, made by true_peak_init(): one row of taps a point, a sinc under a Kaiser window of beta 5 and 20
 * samples' length, scaled to a gain of 1 at 0 Hz. Reached: within 0.05 dB of the sine's amplitude at every point up to
 * 0.42 of the sample rate. What lies between the points is missed: for a frequency f and n points a sample at most
 * 20 log10 cos(pi f / (n fs)), which is 0.55 dB at 0.45 fs and n = 4.
 *
 * Gaps. Where samples are missing, that is two or more in a row are exactly 0, or one between two of the same sign,
 * what lies between the samples around them rings up to 2 dB over the sound. It tells nothing of the sound, so points
 * whose taps reach a gap do not count; the samples themselves always do. (A tone's zero crossing has a sample of either
 * sign beside it.) */
#ifndef LINCTUS_TRUE_PEAK_H
#define LINCTUS_TRUE_PEAK_H

#include "dsp.h"
#include "four_math.h"

enum {
    TRUE_PEAK_TAPS = 20,
    TRUE_PEAK_MORE = 3,                 /* most points between two samples */
    TRUE_PEAK_LAG = TRUE_PEAK_TAPS / 2, /* samples from a sound to its reading */
};

typedef struct {
    uint32_t between; /* points between two samples: 3, 1 or 0 */
    float tap[TRUE_PEAK_MORE][TRUE_PEAK_TAPS];
    float most; /* no point is higher than this times the highest of the samples that it is made from */
    float past[DSP_CHANNELS][TRUE_PEAK_TAPS - 1];
    float sound[DSP_CHANNELS];    /* the last sample that was not 0 */
    uint32_t zeros[DSP_CHANNELS]; /* samples of 0 since, at most 2 */
    uint32_t whole[DSP_CHANNELS]; /* samples since the last gap, at most TRUE_PEAK_TAPS */
} TruePeak;

/* Allocates nothing. rate: DSP_RATE_MIN..DSP_RATE_MAX. */
void true_peak_init(TruePeak *p, double rate);

/* As if silence had gone before. */
void true_peak_reset(TruePeak *p);

/* Highest magnitude among the points of these n samples, TRUE_PEAK_LAG samples late; 0 for n = 0. Finite samples. Same
 * cost for every sample. */
float true_peak_process(TruePeak *p, uint32_t channel, const float *in, uint32_t n);

/* The same, or `known` where none lies above it: cheap where little does. */
float true_peak_above(TruePeak *p, uint32_t channel, const float *in, float known, uint32_t n);

/* The same by sample: peak[t] becomes the higher of itself and what lies from the sample TRUE_PEAK_LAG before in[t] to
 * the next one. n: at most DSP_CELL. enough: points up to this need not be told apart: each peak[t] above it is exact,
 * the others are at least that sample's magnitude and not above `enough` nor above the exact ones. 0: all are exact.
 * Where no point near can lie above `enough` none is reckoned. */
void true_peak_points(TruePeak *p, uint32_t channel, const float *in, float enough, float *peak, uint32_t n);

/* Whether nothing that true_peak_points() would read next can lie above `limit`. span: of the samples that come. */
bool true_peak_stays_under(const TruePeak *p, uint32_t channel, FourSpan span, float limit);

/* In the place of true_peak_points() where the answer is of no use. */
void true_peak_skip(TruePeak *p, uint32_t channel, const float *in, FourSpan span, uint32_t n);

/* Highest magnitude of the samples alone that true_peak_points() would read next. */
float true_peak_sample(const TruePeak *p, uint32_t channel, const float *in, uint32_t n);

#endif
