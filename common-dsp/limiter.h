/* Look-ahead limiter: keeps peaks under a ceiling, turning down only what would pass it.
 *
 * The caller says for each sample how far over the ceiling it lies (1: at it). The reduction this calls for is held for
 * LIMITER_HOLD, longer than a period of any voice, so that the gain rests between the peaks of a note and does not
 * distort its waveform. Then it is released along a straight line, from a gain of 0 to 1 in LIMITER_RELEASE. Three
 * running means (triple_mean.h) that fit into the look-ahead smooth that path. Every reduction they average is at least
 * what the sample now coming out needs, so there is no overshoot to clip, and the gain moves without a kink. (Windowed
 * maximum and running mean over the same window: a common design of look-ahead limiters.)
 *
 * Gains are whole steps of 2^-24: where nothing passes the ceiling the gain is exactly 1, and the output is the delayed
 * input. Two channels get the same gain. The hold is counted in cells (dsp.h): limiter_tick() at every grid point. */
#ifndef LINCTUS_LIMITER_H
#define LINCTUS_LIMITER_H

#include "delay.h"
#include "dsp.h"
#include "envelope.h"
#include "triple_mean.h"

#define LIMITER_LOOK_AHEAD 0.002 /* seconds, most that the output is delayed */
#define LIMITER_HOLD       0.018 /* seconds, up to a cell more: a period of 56 Hz */
#define LIMITER_RELEASE    0.08  /* seconds from a gain of 0 to 1; the last 6 dB take half of it */

typedef struct {
    uint32_t channels, latency; /* latency: samples */
    Delay line[DSP_CHANNELS];
    PeakHold held;         /* largest reduction of the last cells */
    int32_t cell, recent;  /* largest reduction of the current cell; and of the cells that are held */
    int32_t down, release; /* reduction (1 - gain) before the means; how much it falls in a sample */
    TripleMean mean;
    double step;     /* gain for 1 of the mean's sum */
    uint32_t moving; /* samples until the limiter is at rest; 0: the gain is 1 */
    double gain;     /* of the last sample, as a factor */
} Limiter;

/* late: samples by which `over` lags the audio; less than the look-ahead. Allocates. false: no memory, or rate or
 * channels (1..DSP_CHANNELS) out of range. */
bool limiter_init(Limiter *l, double rate, uint32_t channels, uint32_t late);

/* Safe on a zeroed or half-made struct. */
void limiter_done(Limiter *l);

/* Gain 1, and silence in the delay. */
void limiter_reset(Limiter *l);

/* To be called at every grid point, before the samples of the cell. */
void limiter_tick(Limiter *l);

/* io: n input samples a channel, replaced by the limited output, `latency` samples late. over[i]: the sample `late`
 * before io[..][i] as a ratio to the ceiling, an amplitude: finite, 0 or more; ratios over 10^6 are not kept exactly.
 * n: no more samples than are left of the cell. */
void limiter_process(Limiter *l, const float *over, float *const *io, uint32_t n);

/* True when the gain is 1. While it is, and nothing lies over the ceiling, limiter_pass() does what the above does. */
static inline bool limiter_rests(const Limiter *l)
{
    return !l->moving;
}

/* The delay alone. out may be in. */
void limiter_pass(Limiter *l, const float *const *in, float *const *out, uint32_t n);

/* Gain reduction of the last sample, dB, 0 or more. */
double limiter_turned_down(const Limiter *l);

#endif
