/* Floor: turns a steady noise down, hiss or a fan's, under the voice and between its phrases alike, by the amount that
 * is asked for. It is called noise_floor here, since C has a floor() of its own.
 *
 * From spectra of frames of 32 ms (stft.h) it follows the noise in every bin (noise_track.h): the mean power of frames
 * in which a band holds nothing else. What is removed is a spectrum too: each bin's share by the log-spectral amplitude
 * estimator, never more than asked for (noise_gain.h). It goes to audio, and the output is the input, delayed, minus
 * that. So where no noise is known, or 0 dB is asked for, the output is the input to the bit.
 *
 * What is learned is how much noise there is in each band (noise_memory.h): the noise is known from the first frame on.
 * On hold nothing is learned; a noise that drifts is followed all the same, to at most 8 dB over what was learned, so
 * that no long soft note can pass for noise. On hold with nothing learned it does nothing.
 *
 * Both channels get the same gains, from their power together; a living channel stands in for one that is digitally
 * silent for a whole frame. Digital silence is no noise. It only ever turns down:
 * nothing here makes things loud. */
#ifndef LINCTUS_NOISE_FLOOR_H
#define LINCTUS_NOISE_FLOOR_H

#include "fade.h"
#include "noise_gain.h"
#include "noise_track.h"
#include "processor.h"
#include "stft.h"
#include "work.h"

typedef struct {
    double down_by;      /* dB, 0..15: what the noise is turned down by; 0: nothing is done */
    double counts_up_to; /* dB over the noise found, -6..6: what is taken for the noise's power */
    double works_from;   /* Hz, 20 or more: what lies lower, by up to a bin, is left alone; 20: nothing is */
    bool learn;          /* keep learning the noise; false holds it. Hold -> learn starts afresh */
    bool hear_removed;   /* puts out only what is taken away; silent where nothing is */
} NoiseFloorParams;

typedef struct {
    double noise;   /* dB, plain RMS: the noise as it is now, the mean of both channels; UNITS_DB_FLOOR: none known */
    double heard;   /* s of noise that it was learned from, up to 60 */
    double down;    /* dB, 0 or less: output over input, of the last half second */
    double removed; /* per cent of the energy, since the last reset */
} NoiseFloorReport;

typedef struct {
    double rate;
    uint32_t channels;
    NoiseFloorParams params;
    LearnSwitch learn;
    NoiseMemory memory;
    uint32_t version;       /* of the memory */
    uint32_t since_learned; /* hops */

    Stft stft;
    NoiseTrack track;
    NoiseGain gain;
    float *power,
        *before; /* for each bin: this frame's, while `stft` lends room for it; what noise_gain_bins() keeps */
    float part[NOISE_BANDS]; /* 0..1, moving: 1 where the noise is known, so that it does not go or come at once */
    float most[NOISE_BANDS]; /* power a Hz: what the noise of a band may come to on hold */
    float lowest;            /* gain, for `down_by` */
    float counts;            /* power, for `counts_up_to` */
    uint32_t first;          /* bin, for `works_from` */
    uint32_t step;           /* of a frame's work, the next */
    Work pace;               /* all of them in a hop */
    bool begun;              /* a grid point was reached since the reset */
    bool works;              /* something of this frame's spectrum is removed */
    bool listens;            /* the noise can be heard in this frame */
    float scale;             /* of its power, so that a living channel counts for a dead one too */

    bool sounds[DSP_CHANNELS];     /* in this hop some sample was none of digital silence */
    uint32_t silent[DSP_CHANNELS]; /* hops without a sound, the last ones, up to a frame's */
    uint32_t gap[DSP_CHANNELS];    /* hops until no frame has a hop without a sound in it */
    Fade hear;

    double in, removed;           /* energy, since the last reset */
    double in_lately, out_lately; /* the same of the last half second, fading */
} NoiseFloor;

/* Latency: a frame and a hop, 42.7 ms at 48 kHz; 31 to 47 ms at any rate. */
extern const Processor noise_floor;

#endif
