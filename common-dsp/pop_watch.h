/* Watches for pops, the bursts of air that a p or b blows onto the microphone, and catches them as they rise. Method
 * ours.
 *
 * A pop is sound under 100 Hz that is as loud over 20 ms as the voice, and 10 dB louder than all sound above 250 Hz. It
 * is caught as it rises, when it is still up to 8 dB fainter, if it is 18 dB louder than all sound above 250 Hz. Sung
 * and spoken notes, however low, have harmonics, and so more sound above. A hum that goes on when the voice above it
 * ends is not a pop, since a pop rises by 10 dB out of steady sound. Anything that lasts longer than 0.18 s (a rumble,
 * a bump) is let go. A pop is over as soon as a voice sounds above it. */
#ifndef LINCTUS_POP_WATCH_H
#define LINCTUS_POP_WATCH_H

#include "dsp.h"
#include "svf.h"

/* Measures the power below 100 Hz and above 250 Hz, at a reduced rate of a few kHz. */
typedef struct {
    uint32_t group, into; /* samples averaged into one; how many of those are in so far */
    float sum;            /* of the samples in so far */
    Svf bottom[2], top;
    SvfState bottom_state[2], top_state;
    double keep_up, keep_down; /* one-pole coefficients for rising and for falling power */
    double low, high;          /* the powers */
} PopEar;

typedef struct {
    double rate;
    PopEar ear;
    double steady;     /* power of the steady sound below 100 Hz; rises no faster than a hum */
    double climb;      /* largest ratio by which `steady` rises in a cell */
    uint32_t settling; /* cells left until rises are looked for */
    uint32_t lasting;  /* cells since the current pop began; 0: there is none */
    bool catching;     /* a pop sounds now, and does not last too long */
    uint32_t over;     /* cells since it last sounded like a pop */
} PopWatch;

/* rate: DSP_RATE_MIN..DSP_RATE_MAX, Hz. */
void pop_watch_init(PopWatch *w, double rate);

/* Back to the state before the first sample. */
void pop_watch_reset(PopWatch *w);

/* Takes in n samples; of two channels, their half sum. */
void pop_watch_hear(PopWatch *w, const float *const *in, uint32_t channels, uint32_t n);

/* At a grid point, for the cell that has passed: sets `catching`. Returns true if a pop has just been caught. least:
 * dB, RMS over 20 ms of the faintest pop. known: `least` is known; if false, nothing is a pop. */
bool pop_watch_tick(PopWatch *w, bool known, double least);

#endif
