/* Short-time spectra, a frame at a time: audio comes in, frames of it are looked at as spectra and may be changed, and
 * what the changed ones sound like comes out, always `latency` samples later: a frame and a hop.
 *
 * A frame is 23 to 35 ms long: 32 ms at 48 kHz, 35 ms at 44.1 kHz; the hop is a third of it. Windows are roots of Hann
 * windows, so an unchanged spectrum gives the audio back within rounding. Every frame begins at a grid point, and its
 * work may be done in any of the cells of the hop that follows, in portions of the caller's choice. Nothing depends on
 * how a cell is cut. Method and transform: stft.md.
 *
 * At each grid point stft_tick(); where it says 0 a new frame is there: stft_analyse() in all its steps, change
 * `spectrum`, stft_synthesise() in all of its, a channel's at a time, all before it says 0 again. The first channel is
 * the last to be analysed and the first to be synthesised: its spectrum lies where the transforms work. In between
 * stft_process(). */
#ifndef LINCTUS_STFT_H
#define LINCTUS_STFT_H

#include "dsp.h"

enum {
    STFT_OVERLAP = 3, /* frames over each sample */
    STFT_STEPS = 8,   /* of an analysis, and of a synthesis */
};

typedef struct {
    float re, im;
} StftBin;

typedef struct {
    uint32_t channels, cells;   /* cells: of a hop, 2 or more */
    uint32_t size, hop, bins;   /* samples of a frame and of the way to the next; bins: size / 2 + 1 */
    uint32_t cell;              /* of the hop, 0..cells - 1 */
    uint32_t at;                /* sample of the hop */
    float *memory;              /* all that follow: */
    float *window;              /* its first half, with the middle */
    float *frame, *quarters;    /* size of each: complex numbers, a frame's before and after, and its four transforms;
                                   from the last analysis to the first synthesis of a hop `frame` is the caller's */
    float *turns;               /* half a turn by steps of a bin, which puts quarters and halves together */
    float *heard[DSP_CHANNELS]; /* hop + size: what goes out late during this hop, in whose place comes what is heard
                                   during it; the frame */
    float *put[DSP_CHANNELS];   /* hop + size: what goes out during this hop, and what frames have brought after it */
    StftBin *spectrum[DSP_CHANNELS]; /* bin k is at k / size of the rate */
    void *kiss;                      /* kissfft's */
} Stft;

/* Allocates; false: no memory. rate: DSP_RATE_MIN..DSP_RATE_MAX, channels: 1..DSP_CHANNELS. */
bool stft_init(Stft *s, double rate, uint32_t channels);

/* Safe on a zeroed or half-made one. */
void stft_done(Stft *s);

/* Silence went before; the next grid point begins a frame of it. */
void stft_reset(Stft *s);

/* Samples: size + hop. */
uint32_t stft_latency(const Stft *s);

/* A grid point. Returns the cell of the hop that begins, 0..cells - 1. */
uint32_t stft_tick(Stft *s);

/* n samples of one cell, up to its end. late: what came in, `latency` samples later; out: what frames have brought.
 * Neither is an input. */
void stft_process(Stft *s, const float *const *in, float late[][DSP_CELL], float out[][DSP_CELL], uint32_t n);

/* The newest frame's spectrum. Steps 0 to STFT_STEPS - 1, in order, nothing else of this frame's work in between.
 * Steady noise of power p has |X|^2 = p size / 2 in each bin, in the mean. */
void stft_analyse(Stft *s, uint32_t channel, uint32_t step);

/* Adds what `spectrum` sounds like to what goes out. Steps as above. */
void stft_synthesise(Stft *s, uint32_t channel, uint32_t step);

#endif
