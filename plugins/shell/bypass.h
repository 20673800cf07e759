/* Bypass by `enabled`: the cross-fade between the processor's sound and what passes by, and the processor's sleep.
 *
 * Off, once the fade is over and what the processor hears has faded away too, it sleeps: it is not run, nothing is
 * learned, and what would sound on in it is cleared. On again, it first hears what comes in fade in and settles, while
 * the input goes on passing by; then the fade begins. Before it sleeps and after, it hears a take that pauses, and no
 * joint. Turned back before that, nothing of this happens: the fade turns round.
 *
 * All changes of mind are at grid points. */
#ifndef LINCTUS_BYPASS_H
#define LINCTUS_BYPASS_H

#include "dsp.h"
#include "fade.h"

#define BYPASS_FADE   0.02 /* seconds, of each fade */
#define BYPASS_SETTLE 0.1  /* seconds and the latency, that the processor is given before its sound fades in */
#define BYPASS_DRAIN  0.1  /* seconds and the latency, from where what it hears begins to fade away to its sleep */

/* What the pieces of a cell need. */
typedef enum {
    BYPASS_NOTHING, /* the processor's sound alone */
    BYPASS_MIX,     /* both, and the fades: bypass_hear(), then bypass_mix() */
    BYPASS_ASLEEP,  /* what passes by alone, with passing_gain: bypass_pass() */
} BypassPiece;

typedef struct {
    Fade wet;          /* share of the processor's sound */
    Fade passing_gain; /* of what passes by */
    Fade heard;        /* of what the processor is given */
    bool on, always_runs, asleep;
    BypassPiece piece;           /* up to the next grid point */
    uint32_t settle, drain, due; /* samples; due: until its sound may fade in, or it may sleep */
} Bypass;

/* latency: the processor's, samples. always_runs: it is to go on listening while it is off. */
void bypass_init(Bypass *b, double rate, uint32_t latency, bool always_runs);

/* The next bypass_to() holds at once. */
void bypass_restart(Bypass *b);

/* Controls as of this grid point: on or off, and whether off lets the input pass or is silent. */
void bypass_to(Bypass *b, bool on, bool passes);

/* At every grid point, after bypass_to(): sets `piece`. ready: a processor that sleeps may be woken. */
void bypass_point(Bypass *b, bool ready);

/* What the processor is to be given, in place, of each of so many channels. */
void bypass_hear(Bypass *b, float audio[][DSP_CELL], uint32_t channels, uint32_t n);

/* Puts into `wet`, of `outs` channels, its mix with `dry` of `ins` channels, the last of them for what is beyond. Off,
 * every sample of `dry` passes; while anything fades, damage is silence. */
void bypass_mix(Bypass *b, float dry[][DSP_CELL], uint32_t ins, float wet[][DSP_CELL], uint32_t outs, uint32_t n);

/* Asleep: what passes by, in place. */
void bypass_pass(Bypass *b, float dry[][DSP_CELL], uint32_t channels, uint32_t n);

#endif
