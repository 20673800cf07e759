/* The gain of each bin of a spectrum that removes a steady noise of known power and keeps the voice: the minimum
 * mean-square error log-spectral amplitude estimator, its a priori signal-to-noise ratio by the decision-directed rule.
 * Y. Ephraim, D. Malah, "Speech enhancement using a minimum mean-square error log-spectral amplitude estimator", IEEE
 * TASSP 33 (1985); the rule is from their paper of 1984 (TASSP 32). Both from memory.
 *
 * No gain is below the lowest gain. Noise alone is at that gain in every bin all the time, so that what is left of it
 * sounds like the noise itself, only softer. */
#ifndef LINCTUS_NOISE_GAIN_H
#define LINCTUS_NOISE_GAIN_H

#include <stdint.h>

enum {
    NOISE_GAIN_OCTAVES = 15, /* octaves in the table of exp(E1(v) / 2): v from 2^-11 to 2^4 */
    NOISE_GAIN_STEPS = 32,   /* entries in an octave: within 0.07 dB for every v from 2^-11 up, beyond 2^4 too */
};

typedef struct {
    float trust; /* weight of the last frame in the a priori ratio, 0..1 */
    float factor[NOISE_GAIN_OCTAVES * NOISE_GAIN_STEPS];
} NoiseGain;

/* Makes the table. frames: number of frames a second. */
void noise_gain_init(NoiseGain *g, double frames);

/* exp(E1(v) / 2) from the table; v above 0. */
float noise_gain_factor(const NoiseGain *g, float v);

/* Works out the gains of n bins. power: of the frame; noise: power of the noise, above 0, which is multiplied by
 * counts; before: ratio of the voice's power to the noise in the last frame, 0 at the start, replaced by that of this
 * one. gain: set to lowest..1; may be the same array as power. */
void noise_gain_bins(const NoiseGain *g, const float *power, const float *noise, float counts, float lowest,
                     float *before, float *gain, uint32_t n);

#endif
