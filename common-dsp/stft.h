/* Short-time spectra: audio comes in, each frame of it can be read and changed as a spectrum, and the sound of the
 * changed frames comes out `latency` samples later, a frame and a hop.
 *
 * A frame is 23 to 35 ms long: 32 ms at 48 kHz, 35 ms at 44.1 kHz; the hop is a third of it. Windows are roots of Hann
 * windows, so an unchanged spectrum gives the audio back within rounding. Every frame begins at a grid point. The
 * caller may spread its work over the cells of the hop that follows. Nothing depends on how a cell is cut. Method and
 * transform: stft.md.
 *
 * Call stft_tick() at each grid point and stft_process() in between. When stft_tick() returns 0 there is a new frame.
 * Before it returns 0 again, for each channel: run all steps of stft_analyse(), change the spectrum, and run all steps
 * of stft_synthesise(). */
#ifndef LINCTUS_STFT_H
#define LINCTUS_STFT_H

#include "delay.h"
#include "fourier.h"

enum {
    STFT_OVERLAP = 3,              /* frames over each sample */
    STFT_STEPS = FOURIER_QUARTERS, /* steps of an analysis, and of a synthesis */
};

typedef struct {
    uint32_t channels, cells; /* cells: in a hop, 2 or more */
    uint32_t size, hop, bins; /* samples in a frame, and from one frame to the next; bins: size / 2 + 1 */
    uint32_t latency;         /* samples from in to out: size + hop */
    uint32_t cell;            /* number of the cell in the hop, 0..cells - 1 */
    uint32_t at;              /* number of the next sample in the hop */
    float *memory;            /* the block that holds frame, put, re and im */
    const float *window;      /* its first half and its middle sample: a table of `fourier` */
    float *frame; /* a little more than `size` floats: room for a transform. The caller may use it between a hop's last
                     analysis and its first synthesis */
    Delay line[DSP_CHANNELS]; /* the input as far back as `latency` */
    float *put[DSP_CHANNELS]; /* `size` samples: output of this hop, and what frames have added after it so far */
    bool made[DSP_CHANNELS];  /* this hop's frame is sound again: it replaces the spectrum until the next hop */
    float *re[DSP_CHANNELS], *im[DSP_CHANNELS]; /* the spectrum: bin k lies at k / size of the rate */
    Fourier fourier;
} Stft;

/* Allocates; false: no memory. rate: Hz, DSP_RATE_MIN..DSP_RATE_MAX; channels: 1..DSP_CHANNELS. */
bool stft_init(Stft *s, double rate, uint32_t channels);

/* Safe on a zeroed struct and after a failed init. */
void stft_done(Stft *s);

/* As if only silence had come before. The next grid point brings a frame of it. */
void stft_reset(Stft *s);

/* Call at each grid point. Returns the number in its hop of the cell that begins, 0..cells - 1; 0: a new frame. */
uint32_t stft_tick(Stft *s);

/* n samples that lie within one cell. late: the input, `latency` samples later; out: the sound of the frames.
 * Neither may overlap `in`. */
void stft_process(Stft *s, const float *const *in, float late[][DSP_CELL], float out[][DSP_CELL], uint32_t n);

/* Works out the newest frame's spectrum. Call it with step 0 to STFT_STEPS - 1 in order, and none of this frame's other
 * work in between. Steady noise of power p has a mean |X|^2 of p size / 2 in each bin. */
void stft_analyse(Stft *s, uint32_t channel, uint32_t step);

/* power[k]: scale |X|^2, summed over the channels, of bins from..to - 1. It may lie in `frame`. */
void stft_power(const Stft *s, float scale, uint32_t from, uint32_t to, float *power);

/* Multiplies bins from..to - 1 of every channel by gain[k]. */
void stft_scale(Stft *s, const float *gain, uint32_t from, uint32_t to);

/* Sets bins from..to - 1 of every channel to 0. */
void stft_silence(Stft *s, uint32_t from, uint32_t to);

/* Turns the spectrum back into sound and overwrites it. The next hop adds that sound to the output. Steps as for
 * stft_analyse(). */
void stft_synthesise(Stft *s, uint32_t channel, uint32_t step);

#endif
