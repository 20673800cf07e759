/* Living: replaces a dead channel for processors that listen, and turns over one that cancels the other.
 *
 * One of two channels is dead after 10 ms of digital silence (DSP_DIGITAL_SILENCE), and before its first sound. Until
 * its next sound the living channel stands in for it, for listening only: so a take with a channel that was never
 * recorded, or died, has the level of the living channel and not 3 dB less, and what was learned does not move. Whoever
 * mixes such a take will put the living channel on both sides. Where both are dead, both are silent.
 *
 * Of two channels of opposite polarity the second is heard turned over, since their mean would be next to nothing. That
 * is so while the mean lies 20 dB or more under the quieter channel, over about 3 s, once both have sounded for 1 s.
 * Ordinary stereo is heard as it is, to the bit. The output is not touched. Method ours. */
#ifndef LINCTUS_LIVING_H
#define LINCTUS_LIVING_H

#include "dsp.h"

/* Sums of squares. */
typedef struct {
    double channel[DSP_CHANNELS], mean; /* of each, and of the mean of both */
} LivingSums;

static inline void living_add(LivingSums *sums, float a, float b)
{
    const double x = (double)a, y = (double)b, mean = 0.5 * (x + y);
    sums->channel[0] += x * x;
    sums->channel[1] += y * y;
    sums->mean += mean * mean;
}

/* Do the channels cancel each other? Not where one of them is silent. */
bool living_opposite(const LivingSums *sums);

/* One window of 0.1 s after the other. */
typedef struct {
    uint32_t window, left; /* samples in one; until the end of the one under way */
    uint32_t sounded;      /* windows in which both sounded, at most as many as it takes */
    LivingSums now, past;  /* of the window under way; of those before, forgotten in some seconds */
    bool opposite;         /* they cancel each other */
} LivingPolarity;

typedef struct {
    uint32_t channels, patience;   /* samples of silence that make a channel dead */
    uint32_t silent[DSP_CHANNELS]; /* samples of silence in a row, at most `patience` */
    LivingPolarity polarity;
    float turned[DSP_CELL];
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
