/* Living: what a processor that listens makes of a dead channel, and of two that cancel each other.
 *
 * A channel of two that is digitally silent (DSP_DIGITAL_SILENCE) for 10 ms is dead, as one is before its first sound.
 * For all that listens a living channel stands in for a dead one, until its next sound: so a take of which one channel
 * was never recorded, or died, has the level of the channel that lives, and not 3 dB less, and nothing that was learned
 * from it moves. Whoever mixes such a take will put the living channel on both sides. Where both are dead, both are
 * silent.
 *
 * Of two channels of opposite polarity the second is heard turned over: whoever hears their mean would hear nothing.
 * They count as that while the mean of both lies 20 dB and more under the quieter of them, over some seconds; for
 * that, both have to have sounded for a second. Ordinary stereo is heard as it is, to the bit.
 *
 * What is put out is not touched. Method ours. */
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

/* Allocates nothing. rate: DSP_RATE_MIN..DSP_RATE_MAX, channels: 1..DSP_CHANNELS. */
void living_init(Living *l, double rate, uint32_t channels);

/* No channel has sounded yet. */
void living_reset(Living *l);

/* The next n samples as they are to be heard, until the next call; n: up to DSP_CELL. heard[channels..) is NULL. */
void living_process(Living *l, const float *const *in, const float *heard[DSP_CHANNELS], uint32_t n);

#endif
