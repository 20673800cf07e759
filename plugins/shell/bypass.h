/* Bypass by `enabled`: the cross-fade between the processor's output and the bypassed input, and the processor's sleep.
 *
 * Switched off, the output fades to the bypassed input; then the processor's own input fades out, and it sleeps: it is
 * not run, nothing is learned, and whatever would ring on in it is cleared. Switched on again, it first hears its input
 * fade in and settles, while the bypass goes on; then the output fades. So to the processor the sleep is a pause in the
 * take, without a discontinuity; only in lines that it lends to the shell (processor.h) the take goes on unfaded.
 * Switched back before it sleeps, the fades just turn round.
 *
 * Everything is decided at grid points. */
#ifndef LINCTUS_BYPASS_H
#define LINCTUS_BYPASS_H

#include "dsp.h"
#include "fade.h"

#define BYPASS_FADE   0.02 /* s: each fade */
#define BYPASS_SETTLE 0.1  /* s, plus the latency: from the start of its input's fade-in to that of its output */
#define BYPASS_DRAIN  0.1  /* s, plus the latency: from the start of its input's fade-out to its sleep */

/* What has to be done with each piece of audio up to the next grid point. */
typedef enum {
    BYPASS_NOTHING, /* put out the processor's output alone */
    BYPASS_MIX,     /* mix and fade: bypass_hear(), the processor, then bypass_mix() */
    BYPASS_ASLEEP,  /* put out the bypassed input alone: bypass_pass() */
} BypassPiece;

typedef struct {
    Fade wet;          /* share of the processor's output in the mix */
    Fade passing_gain; /* gain of the bypassed input */
    Fade heard;        /* gain of the processor's input */
    bool on, always_runs, asleep;
    BypassPiece piece;           /* what holds up to the next grid point */
    uint32_t settle, drain, due; /* samples; due: until the output may fade in, or the processor may sleep */
} Bypass;

/* rate: Hz; latency: the processor's, samples; always_runs: it is never put to sleep and goes on listening. */
void bypass_init(Bypass *b, double rate, uint32_t latency, bool always_runs);

/* The next bypass_to() takes effect at once, without a fade. */
void bypass_restart(Bypass *b);

/* The controls at this grid point. on: the processor is; passes: when it is off, the input passes; false: silence. */
void bypass_to(Bypass *b, bool on, bool passes);

/* At every grid point, after bypass_to(): sets `piece`. ready: a sleeping processor may be woken. */
void bypass_point(Bypass *b, bool ready);

/* Fades the processor's input, in place. */
void bypass_hear(Bypass *b, float audio[][DSP_CELL], uint32_t channels, uint32_t n);

/* Mixes `dry`, of `ins` channels, into `wet`, of `outs` channels; outputs beyond `ins` take the last input. When only
 * the bypassed input is heard, every sample of `dry` passes; while anything fades, damage (dsp.h) becomes 0. */
void bypass_mix(Bypass *b, float dry[][DSP_CELL], uint32_t ins, float wet[][DSP_CELL], uint32_t outs, uint32_t n);

/* For a sleeping processor: gives the bypassed input its gain, in place. */
void bypass_pass(Bypass *b, float dry[][DSP_CELL], uint32_t channels, uint32_t n);

#endif
