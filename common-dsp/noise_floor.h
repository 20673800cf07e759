/* Floor: turns a steady noise (hiss, a fan) down by the amount asked for, under the voice and between phrases alike.
 * Its files are called noise_floor, as C has a floor() of its own.
 *
 * In spectra of frames of 32 ms (stft.h) it follows the noise in every bin (noise_track.h): the mean power of frames in
 * which a band holds nothing else. The log-spectral amplitude estimator gives each bin's share to remove, never more
 * than asked for (noise_gain.h). These shares are turned into audio, and the output is the delayed input minus that. So
 * where no noise is known, or 0 dB is asked for, the output is the input to the bit.
 *
 * What is learned is the noise in each band (noise_memory.h), so that it is known from the first frame on. On hold
 * nothing is learned. A drifting noise is still followed, up to 8 dB over what was learned, so that no long soft note
 * can pass for noise. On hold with nothing learned it does nothing.
 *
 * Both channels get the same gains, from their power together; a living channel stands in for one that is digitally
 * silent for a whole frame. Digital silence is not noise. Nothing is ever turned up. */
#ifndef LINCTUS_NOISE_FLOOR_H
#define LINCTUS_NOISE_FLOOR_H

#include "fade.h"
#include "noise_gain.h"
#include "noise_track.h"
#include "processor.h"
#include "removal.h"
#include "stft.h"
#include "work.h"

typedef struct {
    double down_by;      /* dB, 0..15: how far the noise is turned down; 0: not at all */
    double counts_up_to; /* dB, -6..6: power that counts as noise, against the noise found */
    double works_from;   /* Hz, 20 or more: lower frequencies are left alone, to within a bin; 20: none is */
    bool learn;          /* true: keep learning the noise; false: hold it. Hold -> learn starts afresh */
    bool hear_removed;   /* put out only what is removed */
} NoiseFloorParams;

typedef struct {
    double noise;   /* the noise now, dB RMS, unweighted, mean of both channels; UNITS_DB_FLOOR: none known */
    double heard;   /* s of noise that it was learned from, up to 60 */
    double down;    /* level of the output against the input over the last half second, dB, 0 or less */
    double removed; /* per cent of the energy that was removed since the last reset */
} NoiseFloorReport;

typedef struct {
    double rate;
    uint32_t channels;
    NoiseFloorParams params;
    LearnSwitch learn;
    NoiseMemory memory;
    uint32_t version;       /* counts changes of the memory */
    uint32_t since_learned; /* hops since the memory took a reading */

    Stft stft;
    NoiseTrack track;
    NoiseGain gain;
    float *power, *before; /* by bin: powers of this frame, in a buffer lent by `stft`; what noise_gain_bins() keeps */
    float part[NOISE_BANDS]; /* 0..1, fades to 1 where the noise is known, to 0 where it is not */
    float most[NOISE_BANDS]; /* most that a band's noise can become on hold, power per Hz */
    float lowest;            /* `down_by` as a gain */
    float counts;            /* `counts_up_to` as a ratio of powers */
    uint32_t first;          /* `works_from` as a bin */
    uint32_t step;           /* next step of this frame's work */
    Work pace;               /* spreads the steps over a hop */
    bool begun;              /* a grid point was reached since the reset */
    bool works;              /* something is removed in this frame */
    bool listens;            /* the noise can be tracked in this frame */
    float scale;             /* of the frame's power, so that a living channel counts for a dead one too */

    bool sounds[DSP_CHANNELS];     /* a sample of this hop was above digital silence */
    uint32_t silent[DSP_CHANNELS]; /* hops in a row without a sound, up to those of a frame */
    uint32_t gap[DSP_CHANNELS];    /* hops until a frame has no hop without a sound in it */
    Fade hear;

    Removal removal;
} NoiseFloor;

/* Latency: a frame and a hop, 42.7 ms at 48 kHz; 31 to 47 ms at any rate. */
extern const Processor noise_floor;

#endif
