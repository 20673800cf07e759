/* Partials: how loud each harmonic of a voice is, note by note.
 *
 * It listens to one channel for voice (voice.h) and cuts what is sung or said into pieces of up to 60 ms in which the
 * pitch stays within a semitone of its mean. A piece holds the mean pitch and the mean level in dB of each harmonic up
 * to PARTIALS_HIGHEST, without breath, rests, noise between the harmonics, or hum. Speech hardly holds a sound for
 * longer: pieces of at least 60 ms with a steady spectrum would hold a fifth as much of its voice. Frames 30 dB under
 * the loudest frame lately (which fades by 6 dB in each second of voice) are left out: they are what rings after a
 * note. So a take gives the same pieces at any level.
 *
 * Method: every 20 ms, the Fourier sum at each harmonic of the pitch under a Hann window of three periods (20 to 50
 * ms), whose zeros fall on the neighbouring harmonics. The signal is low-passed and decimated to between 8 and 16 kHz.
 * The work of a frame is spread over the grid points until the next. */
#ifndef LINCTUS_PARTIALS_H
#define LINCTUS_PARTIALS_H

#include "held.h"
#include "thin.h"
#include "voice.h"

#define PARTIALS_HIGHEST 2000.0 /* Hz, highest frequency at which a harmonic is measured */

enum {
    PARTIALS_MOST = 20, /* most harmonics of a piece */
};

typedef struct {
    uint32_t count;              /* harmonics that were measured, 1 or more */
    uint32_t frames;             /* frames of 20 ms in the means, 1 to 3 */
    double hz;                   /* mean pitch */
    double level[PARTIALS_MOST]; /* mean RMS level, dB; harmonic k at [k - 1] */
} PartialsPiece;

typedef struct {
    Voice voice;
    uint32_t seen;   /* position of the voice's ring of frames at the last tick */
    uint32_t frames; /* frames of pitch.h since the reset */

    Thin thin;
    uint32_t decimate;
    double rate; /* after decimation, Hz */
    float *past; /* the last decimated samples, a ring */
    uint32_t past_size, past_at;
    uint32_t taken; /* decimated samples since the reset; wraps round, as do all counts of decimated samples */

    float *window; /* the frame being measured, windowed */
    uint32_t window_size;
    double frame_hz, frame_scale;
    double frame_level[PARTIALS_MOST];
    uint32_t frame_count, frame_at; /* harmonics of the frame; how many are measured */
    uint32_t per_cell;              /* harmonics measured at a grid point */
    bool measuring;                 /* a frame is being measured */
    double loudest, fade;           /* power of the loudest frame lately; its ratio from one frame to the next */
    bool tail;                      /* the last frame measured was a tail */
    Held notes;
    HeldFound held; /* found at the last tick */

    PartialsPiece sum; /* sums over the current piece; hz: sum of log2 of the pitch */
} Partials;

/* rate: DSP_RATE_MIN..DSP_RATE_MAX. Allocates; false: no memory, or rate out of range. */
bool partials_init(Partials *p, double rate);
void partials_done(Partials *p);  /* safe after an init that failed */
void partials_reset(Partials *p); /* back to the state before the first sample */

/* Samples from one frame to the next. */
uint32_t partials_frame(const Partials *p);

/* To be called once a cell, at its start. true: a piece is complete, and *piece is set. */
bool partials_tick(Partials *p, PartialsPiece *piece);

/* The held note that the last tick found, if any; tails do not count. */
HeldFound partials_held(const Partials *p);

/* Takes in n samples between grid points, at most a cell. */
void partials_process(Partials *p, const float *in, uint32_t n);

#endif
