/* A plate reverberator: smooth ambience whose outcome is asked for, the decay in seconds and the wet level in dB. A
 * feedback delay network of 16 lines between two chains that double the echoes; how it is built, where that comes from
 * and what was found: plate.md. No delay ever varies, so there is no pitch modulation. No latency. It learns nothing.
 *
 * The decay time falls from `decay` at low frequencies to a third of it at high ones, and is half of it at `damping`.
 * The low cut is a 2nd-order Butterworth high-pass before the tank: 3 dB down at low_cut, 12.3 dB at half of it.
 *
 * Wet level: settled noise with the long-term spectrum of speech (Byrne et al., JASA 96, 1994) comes out of each
 * channel at `wet` dB relative to the input, whatever decay, damping, low cut and width say (plate_level.h). One word
 * is softer than a held note. At 0 dB wet and dry together are 3 dB louder than dry alone.
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
    double decay;     /* 0.3..10 s, time to fall by 60 dB at low frequencies; a jump takes about a second */
    double low_cut;   /* 20..600 Hz */
    double damping;   /* 1000..20000 Hz, where the decay time is half of decay */
    double wet, dry;  /* -60..0 dB; -60 is silence */
    double width;     /* 0..100 %; 0 is mono, at the same power a channel */
} PlateParams;

/* Two channels out, whatever comes in. No latency: pre-delay is part of the effect. Allocates some 9 bytes a sample of
 * rate (450 kB at 48 kHz). */
extern const Processor plate;

/* ---- What it is made of ---- */

/* What follows from decay, damping and low cut, and glides over a cell. */
typedef struct {
    PlateTankTune tank;
    PlateLoss shade;
    Svf cut;
    SvfBlock cut_block;                        /* of it */
    float into[PLATE_STEPS], out[PLATE_STEPS]; /* fades of the chains */
    float feed;                                /* gain into the first chain */
} PlateTune;

/* What follows from wet, dry and width, and glides likewise. */
typedef struct {
    float same, other; /* of an output's own channel and of the other one */
    float dry;
} PlateMix;

typedef struct {
    double rate;
    uint32_t in_channels;
    PlateTables tables;
    bool fresh, moving;             /* no cell since the last reset; the tuning glides in this cell */
    Smooth decay, damping, low_cut; /* logarithms, a step a cell */
    Smooth wet, dry, width;         /* gains, a step a cell */
    PlateTune from, goal;
    PlateMix mix_from, mix_goal;
    PlateLevel level;

    PlateRing ring;         /* of all that is delayed */
    float *memory;          /* of it */
    size_t floats, cleared; /* of it; in a pause, how many are silent already */
    SvfState cut[DSP_CHANNELS];
    PlateWait wait; /* the pre-delay */
    PlateChain into, out;
    PlateTank tank;
    PlateShade shade;

    uint32_t at;                         /* samples of the cell that lie behind */
    float heard[DSP_CHANNELS][DSP_CELL]; /* what came in */
    float ready[PLATE_OUTS][DSP_CELL];   /* the wet sound of this cell */
    float dry_gain[DSP_CELL];
} Plate;

/* As plate.init (processor.h), with the tables of another seed (plate_tables.h): for the program that chooses them. */
bool plate_init_with(Plate *p, uint32_t seed, double rate, uint32_t in_channels);

#endif
