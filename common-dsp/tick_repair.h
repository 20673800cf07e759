/* Works out what a tick adds to the sound, for Ticks to take away: sound by sound, in steps of about equal cost.
 *
 * The sound without the tick is what a voice of this spectrum most likely did there, given the samples on both sides
 * (least squares of the prediction error: A. Janssen, R. Veldhuis, L. Vries, "Adaptive interpolation of discrete-time
 * signals that can be modeled as autoregressive processes", IEEE TASSP 34, 1986) and given what was heard through the
 * tick: its samples are no gap but sound with a tick over it, of which the power is known, piece by piece, from the
 * prediction error (the Gaussian model of S. Godsill, P. Rayner, "Digital Audio Restoration", 1998). So where the voice
 * is stronger than the tick, as at low frequencies, it is left alone. With A the prediction error's filter, s the
 * sound, x what was heard, e its error's power and t the tick's: |A s|^2 / e + |x - s|^2 / t is the least. And as the
 * most likely sound has less of everything that cannot be told than sound has, some noise of its spectrum is drawn to
 * it (P. Rayner, S. Godsill, 1991). The full amount would leave the sound's own spectrum, but twice as much that is not
 * its own: half of that amplitude is drawn in hiss, where what is left would be heard, and up to 0.7 in a voice, which
 * covers it. On the voices for tuning the worst one's spans are 2.8 dB duller than it was, and 95.7 % of clicks leave
 * less than what is around them; with 0.4 for all that was 3.5 dB and 96.3 %, with 0.6 2.9 dB and 94.5 %. All from
 * memory, none was opened.
 *
 * The unknown is the tick, x - s. Its matrix is a band as wide as the predictor is long; a row of its Cholesky factor
 * is a step. What is left of the sound must be smoother than what was heard, else nothing is taken. */
#ifndef LINCTUS_TICK_REPAIR_H
#define LINCTUS_TICK_REPAIR_H

#include "tick_finder.h"

enum {
    TICK_TAPS = TICK_ORDER + 1,   /* of a predictor of the sound itself, after the first */
    TICK_BESIDE = TICK_TAPS + 32, /* samples that are looked at to either side */
    TICK_REPAIR_MOST = TICK_SPAN * TICK_PIECE,
};

typedef struct {
    uint32_t n, channels, done, steps; /* done == steps: ready */
    double alike[TICK_TAPS + 1];       /* of the predictor with itself */
    double ease[TICK_REPAIR_MOST];     /* e / t */
    double drawn[DSP_CHANNELS];        /* amplitude of what is drawn, before it is shaped */
    double x[DSP_CHANNELS][TICK_REPAIR_MOST + 2 * TICK_BESIDE];
    double row[TICK_REPAIR_MOST][TICK_TAPS + 1]; /* of the factor: up to the diagonal, which is last */
    double tick[DSP_CHANNELS][TICK_REPAIR_MOST]; /* when it is ready: what to take away */
} TickRepair;

/* x: what was heard, of each channel from TICK_BESIDE samples before the tick to as many after it. */
void tick_repair_begin(TickRepair *r, const Tick *tick, const float *const *x, uint32_t channels);

/* Steps up to number `to`, at most `steps`. */
void tick_repair_step(TickRepair *r, uint32_t to);

#endif
