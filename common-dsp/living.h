/* Living: replaces a dead channel for processors that listen.
 *
 * One of two channels is dead after 10 ms of digital silence (DSP_DIGITAL_SILENCE), and before its first sound. Until
 * its next sound the living channel stands in for it, for listening only: so a take with a channel that was never
 * recorded, or died, has the level of the living channel and not 3 dB less, and what was learned does not move. Whoever
 * mixes such a take will put the living channel on both sides. Where both are dead, both are silent. The output is not
 * touched. Method ours. */
#ifndef LINCTUS_LIVING_H
#define LINCTUS_LIVING_H

#include "dsp.h"

typedef struct {
    uint32_t channels, patience;   /* samples of silence that make a channel dead */
    uint32_t silent[DSP_CHANNELS]; /* samples of silence in a row, at most `patience` */
    float sound[DSP_CHANNELS][DSP_CELL];
} Living;

/* rate: DSP_RATE_MIN..DSP_RATE_MAX, channels: 1..DSP_CHANNELS. Allocates nothing. */
void living_init(Living *l, double rate, uint32_t channels);

/* No channel has sounded yet. */
void living_reset(Living *l);

/* Takes in n samples, up to DSP_CELL. heard: set to the channels to listen to, valid until the next call; with one
 * channel heard[1] is NULL. */
void living_process(Living *l, const float *const *in, const float *heard[DSP_CHANNELS], uint32_t n);

#endif
