/* By how much each bin of a spectrum is turned down so that a steady noise of known power goes and the voice stays: the
 * gain with the least mean square error of the log-spectral amplitude, and its a priori signal-to-noise ratio by the
 * decision-directed rule. Y. Ephraim, D. Malah, "Speech enhancement using a minimum mean-square error log-spectral
 * amplitude estimator", IEEE TASSP 33 (1985); the rule from theirs of 1984 (TASSP 32). Both from memory.
 *
 * Held from below at the lowest gain: noise alone is turned down by that amount in every bin, moment for moment, so
 * that what is left of it sounds as the noise did, only softer. */
#ifndef LINCTUS_NOISE_GAIN_H
#define LINCTUS_NOISE_GAIN_H

#include <stdint.h>

enum {
    NOISE_GAIN_OCTAVES = 15, /* of the table of exp(E1(v) / 2): v from 2^-11 to 2^4 */
    NOISE_GAIN_STEPS = 32,   /* an octave; within 0.07 dB from the table's start on, over its end too */
};

typedef struct {
    float trust; /* of the a priori ratio: the share of what the last frame gave */
    float factor[NOISE_GAIN_OCTAVES * NOISE_GAIN_STEPS];
} NoiseGain;

/* frames: a second. */
void noise_gain_init(NoiseGain *g, double frames);

/* exp(E1(v) / 2), v > 0: by the table. */
float noise_gain_factor(const NoiseGain *g, float v);

/* n bins. power: of the frame; noise: its power, over 0, taken `counts` times; before: what the last frame had of voice
 * over noise, as a ratio of powers (0 at the start), replaced. gain: lowest..1; may be `power`. */
void noise_gain_bins(const NoiseGain *g, const float *power, const float *noise, float counts, float lowest,
                     float *before, float *gain, uint32_t n);

#endif
