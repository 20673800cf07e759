/* A plate reverberator: smooth ambience whose outcome is asked for, the decay in seconds and the wet level in dB.
 *
 * Low cut -> pre-delay -> diffuser -> tank -> width -> wet gain, added to the dry sound. The tank is a feedback delay
 * network of 32 lines through an orthogonal matrix, each line with the loss that makes every mode decay at the same
 * rate (J.-M. Jot, A. Chaigne, "Digital delay networks for designing artificial reverberators", AES 90, 1991; from
 * memory). No delay ever varies, so there is no pitch modulation.
 *
 * The decay time falls from `decay` at low frequencies to a third of it at high ones, and is half of it at `damping`.
 * The low cut is a 2nd-order Butterworth high-pass before the tank: 3 dB down at low_cut, 12.3 dB at half of it.
 *
 * Wet level: settled noise with the long-term spectrum of speech (Byrne et al., JASA 96, 1994) comes out of each
 * channel at `wet` dB relative to the input, whatever decay, damping, low cut and width say. It is held by scaling
 * what goes into the tank, so that a tail under way never changes level when a control moves. One word is shorter than
 * the build-up of a long decay and comes out softer than a held note. At 0 dB wet and dry together are 3 dB louder than
 * dry alone.
 *
 * Mono or stereo in; the output is always two channels, uncorrelated at width 100 %. Both inputs reach the whole
 * tank; the same sound on both is the sound of the mono variant. The dry path is bit-transparent at dry 0 dB while the
 * wet path is silent. No latency. It learns nothing. */
#ifndef LINCTUS_PLATE_H
#define LINCTUS_PLATE_H

#include "average_voice.h"
#include "delay.h"
#include "fade.h"
#include "processor.h"
#include "smooth.h"
#include "sos.h"

typedef struct {
    double pre_delay; /* 0..200 ms; a change cross-fades */
    double decay;     /* 0.3..10 s, time to fall by 60 dB at low frequencies; a jump takes about a second */
    double low_cut;   /* 20..600 Hz */
    double damping;   /* 1000..20000 Hz, where the decay time is half of decay */
    double wet, dry;  /* -60..0 dB; -60 is silence */
    double width;     /* 0..100 %; 0 is mono, at the same power a channel */
} PlateParams;

/* ---- What it is made of ---- */

enum {
    PLATE_LINES = 32,    /* of the tank */
    PLATE_CHANNELS = 16, /* of the diffuser */
    PLATE_STEPS = 3,     /* of the diffuser */
    PLATE_SHADES = 4,    /* groups of output taps, by delay */
};

/* A delay line whose past is read in runs of up to DSP_CELL samples. */
typedef struct {
    float *slot;
    uint32_t slots, at;
} PlateRing;

/* The lines' loss filters, one lane a line. */
typedef struct {
    float g[PLATE_LINES], a[PLATE_LINES], high[PLATE_LINES], band[PLATE_LINES], low[PLATE_LINES];
} PlateLoss;

/* What follows from decay, damping and low cut, and glides over a cell. */
typedef struct {
    PlateLoss loss;
    float tap[2][PLATE_LINES]; /* gains of the output taps */
    float feed;                /* gain into the diffuser */
} PlateTune;

typedef struct {
    double rate;
    uint32_t in_channels;
    bool fresh, moving;             /* nothing processed since the last reset; the tuning glides in this cell */
    uint32_t into;                  /* samples of the cell that lie behind */
    Smooth decay, damping, low_cut; /* logarithms, a step a cell */
    Smooth wet, dry, width;         /* gains, a step a sample */
    Sos cut, shade[PLATE_SHADES];
    Delay wait[DSP_CHANNELS]; /* the pre-delay */
    uint32_t wait_from, wait_to, wait_wish;
    Fade wait_fade;
    float *memory; /* of all rings */
    PlateRing step[PLATE_STEPS][PLATE_CHANNELS];
    uint32_t step_delay[PLATE_STEPS][PLATE_CHANNELS];
    PlateRing line[PLATE_LINES];
    uint32_t line_delay[PLATE_LINES], tap_delay[2][PLATE_LINES], tap_shade[2][PLATE_LINES];
    double shade_seconds;               /* between groups */
    float state[2][PLATE_LINES];        /* of the loss filters */
    double speech[AVERAGE_VOICE_BANDS]; /* power of speech, band by band: the wet level is that of speech */
    PlateTune from, goal;
} Plate;

/* Two channels out, whatever comes in. No latency: pre-delay is part of the effect. Allocates some 20 bytes a sample of
 * rate (1 MB at 48 kHz). */
extern const Processor plate;

#endif
