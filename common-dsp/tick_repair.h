/* Works out what a tick adds to the sound, for Ticks to take away, in steps of about equal cost.
 *
 * The sound under the tick is estimated from the samples on both sides and from those heard through the tick, and noise
 * of the sound's own spectrum is drawn to fill in what cannot be known. Where the voice is stronger than the tick, as
 * at low frequencies, it is left alone. If the result is not smoother than what was heard, nothing is taken away.
 * Equations, sources and figures: ticks.md. */
#ifndef LINCTUS_TICK_REPAIR_H
#define LINCTUS_TICK_REPAIR_H

#include "tick_finder.h"

enum {
    TICK_TAPS = TICK_ORDER + 1,   /* taps of the predictor of the sound itself, after the first, which is 1 */
    TICK_BESIDE = TICK_TAPS + 32, /* samples read on either side of a tick */
    TICK_REPAIR_MOST = TICK_SPAN * TICK_PIECE, /* samples in a tick, most */
};

typedef struct {
    uint32_t n, channels, done, steps; /* done == steps: ready */
    double alike[TICK_TAPS + 1];       /* autocorrelation of the predictor */
    double ease[TICK_REPAIR_MOST];     /* e / t of ticks.md, by sample */
    double drawn[DSP_CHANNELS];        /* amplitude of the noise drawn, before it is shaped */
    float x[DSP_CHANNELS][TICK_REPAIR_MOST + 2 * TICK_BESIDE];
    double row[TICK_TAPS + 1][TICK_TAPS + 1]; /* the last rows of the Cholesky factor, a ring: up to the diagonal, which
                                                 is last */
    float kept[TICK_REPAIR_MOST][TICK_TAPS + 1]; /* all rows, for the way back */
    double tick[DSP_CHANNELS][TICK_REPAIR_MOST]; /* once it is ready: what to take away */
} TickRepair;

/* Begins with a tick. x: each channel as heard, from TICK_BESIDE samples before the tick to as many after it.
 * channels: 1..DSP_CHANNELS. */
void tick_repair_begin(TickRepair *r, const Tick *tick, const float *const *x, uint32_t channels);

/* Works on until `to` steps are done, `steps` at most. */
void tick_repair_step(TickRepair *r, uint32_t to);

#endif
