/* Keeps peaks under a ceiling: what would pass it is turned down for that moment and no longer.
 *
 * It looks ahead by a constant delay. The caller says for each sample how far over the ceiling it lies (1: at it); what
 * that asks the gain to come down by is held for LIMITER_HOLD, which is longer than a period of any voice, so that the
 * gain rests between the peaks of a note and does not bend its wave; then let go along a straight line, a gain of 0 to
 * one of 1 in LIMITER_RELEASE. That path goes through three running means (triple_mean.h) which fit into the
 * look-ahead: each of the values they average is at least what the sample that is just coming out asks for, so the gain
 * is never above what any sample asks for, and it moves without a kink. (Windowed maximum and running mean over the
 * same window: a common build of look-ahead limiters; there is no overshoot to clip.) All in whole steps of 2^-24 of a
 * gain: where nothing passes the ceiling the gain is exactly 1, and the output the input, delayed. Two channels get the
 * same gain.
 *
 * Its hold is counted in cells of DSP_CELL samples (dsp.h): limiter_tick() at every grid point. */
#ifndef LINCTUS_LIMITER_H
#define LINCTUS_LIMITER_H

#include "delay.h"
#include "dsp.h"
#include "envelope.h"
#include "triple_mean.h"

#define LIMITER_LOOK_AHEAD 0.002 /* seconds, at most */
#define LIMITER_HOLD       0.018 /* seconds, a cell more at most: a period of 56 Hz */
#define LIMITER_RELEASE    0.08  /* seconds, from a gain of 0 to 1; 6 dB take half of it */

typedef struct {
    uint32_t channels, latency; /* latency: samples */
    Delay line[DSP_CHANNELS];
    PeakHold held;         /* of the last cells: what they asked for */
    int32_t cell, recent;  /* the most that the cell under way asked for, and those that are held */
    int32_t down, release; /* 1 - gain before the means, and how much less it gets a sample */
    TripleMean mean;
    double step;     /* of the mean's sum, as a gain */
    uint32_t moving; /* samples until everything rests; 0: the gain is 1 */
    double gain;     /* of the last sample */
} Limiter;

/* late: samples from a sample to the caller's word about it; under the look-ahead. Allocates. false: no memory, or
 * rate or channels out of range. */
bool limiter_init(Limiter *l, double rate, uint32_t channels, uint32_t late);

/* Safe on a zeroed or half-made struct. */
void limiter_done(Limiter *l);

/* A gain of 1, and silence in the delay. */
void limiter_reset(Limiter *l);

/* At every grid point, before the samples of the cell. */
void limiter_tick(Limiter *l);

/* io: the samples, replaced by those `latency` before, turned down. over: by sample, how far the one `late` before lies
 * over the ceiling, as a ratio of amplitudes: finite, 0 or more, and no more than a ratio of 10^6 is kept to the last
 * bit. n: what is left of the cell or less. */
void limiter_process(Limiter *l, const float *over, float *const *io, uint32_t n);

/* Whether it would let everything pass as long as nothing lies over the ceiling: then limiter_pass() does the same. */
static inline bool limiter_rests(const Limiter *l)
{
    return !l->moving;
}

/* While it rests and nothing lies over the ceiling. out may be in. */
void limiter_pass(Limiter *l, const float *const *in, float *const *out, uint32_t n);

/* By how much the last sample was turned down, dB; 0: it was not. */
double limiter_turned_down(const Limiter *l);

#endif
