/* A plate reverberator: smooth ambience, controlled by its results: the decay in seconds and the wet level in dB. A
 * feedback delay network of 16 lines between two chains that double the echoes; construction, sources and measurements
 * are in plate.md. No delay ever varies, so there is no pitch modulation. No latency. It learns nothing.
 *
 * The decay time falls from `decay` at low frequencies to a third of that at high ones; it is half of it at `damping`.
 * The low cut is a 2nd-order Butterworth high-pass before the tank: 3 dB down at low_cut, 12.3 dB an octave below.
 *
 * Wet level: steady noise with the long-term spectrum of speech (Byrne et al., JASA 96, 1994) comes out of each channel
 * at `wet` dB relative to the input at any decay, damping, low cut and width (plate_level.h). A single word comes out
 * softer than a held note. With wet at 0 dB, wet and dry together are 3 dB louder than dry alone.
 *
 * Mono or stereo in; the output is always two channels, uncorrelated at width 100 %. Both inputs reach the whole tank;
 * the same sound on both is the sound of the mono variant. Bit-transparent at dry 0 dB while the wet path is silent. */
#ifndef LINCTUS_PLATE_H
#define LINCTUS_PLATE_H

#include "plate_level.h"
#include "plate_shade.h"
#include "plate_wait.h"
#include "processor.h"
#include "smooth.h"
#include "svf_block.h"

typedef struct {
    double pre_delay; /* 0..200 ms; a change cross-fades */
    double decay;     /* 0.3..10 s, time to fall by 60 dB at low frequencies; a change takes about a second */
    double low_cut;   /* 20..600 Hz */
    double damping;   /* 1000..20000 Hz, where the decay time is half of decay */
    double wet, dry;  /* -60..0 dB; -60 is silence */
    double width;     /* 0..100 %; 0 is mono; the power of each channel stays */
} PlateParams;

/* One or two channels in, always two out. No latency: pre-delay is part of the effect. Allocates about 9 bytes per Hz
 * of sample rate (450 kB at 48 kHz). */
extern const Processor plate;

/* ---- What it is made of ---- */

/* Coefficients that follow from decay, damping and low cut; they glide over a cell. */
typedef struct {
    PlateTankTune tank;
    PlateLoss shade;
    Svf cut;
    SvfBlock cut_block;                        /* the low cut for a whole cell */
    float into[PLATE_STEPS], out[PLATE_STEPS]; /* fades of the two chains' steps */
    float feed;                                /* gain into the first chain */
} PlateTune;

/* Gains that follow from wet, dry and width; they glide likewise. */
typedef struct {
    float same, other; /* wet gains into an output: from its own channel, and from the other */
    float dry;
} PlateMix;

typedef struct {
    double rate;
    uint32_t in_channels;
    PlateTables tables;
    bool fresh, moving;             /* no cell since the last reset; the tuning glides in this cell */
    Smooth decay, damping, low_cut; /* logarithms, stepped once a cell */
    Smooth wet, dry, width;         /* gains, stepped once a cell */
    PlateTune from, goal;
    PlateMix mix_from, mix_goal;
    PlateLevel level;

    PlateRing ring;         /* all delay lines */
    float *memory;          /* the ring's memory */
    size_t floats, cleared; /* its size; in a pause, how much of it is cleared */
    SvfState cut[DSP_CHANNELS];
    PlateWait wait; /* the pre-delay */
    PlateChain into, out;
    PlateTank tank;
    PlateShade shade;

    uint32_t at;                         /* samples of the current cell so far */
    float heard[DSP_CHANNELS][DSP_CELL]; /* the input of this cell */
    float ready[PLATE_OUTS][DSP_CELL];   /* the wet sound of this cell */
    float dry_gain[DSP_CELL];
} Plate;

/* As plate.init (processor.h), but with the tables of a given seed (plate_tables.h): for the program that chooses them.
 */
bool plate_init_with(Plate *p, uint32_t seed, double rate, uint32_t in_channels);

#endif
