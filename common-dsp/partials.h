/* Partials: how loud each harmonic of a voice is, note by note.
 *
 * It listens to one channel for voice (voice.h) and cuts what is sung or said into pieces: of up to 60 ms, in which the
 * pitch stays within a semitone of their mean. A piece is the mean pitch and the mean level in dB of each harmonic up
 * to PARTIALS_HIGHEST: what a note is made of, free of breath, rests, noise between the harmonics and hum. Speech
 * hardly holds a sound for longer: of pieces of 60 ms or more with a steady spectrum it has a fifth as much voice. A
 * frame 30 dB under the loudest one lately (which is forgotten by 6 dB for each second of voice) is none: it is what
 * rings on after a note. So a take gives the same pieces at any level.
 *
 * Method: every 20 ms, the Fourier sum at each harmonic of the pitch under a Hann window of three periods (20 to 50
 * ms), whose zeros fall on the neighbouring harmonics. The signal is low-passed and decimated to between 8 and 16 kHz.
 * The work of a frame is spread over the grid points until the next. */
#ifndef LINCTUS_PARTIALS_H
#define LINCTUS_PARTIALS_H

#include "held.h"
#include "thin.h"
#include "voice.h"

#define PARTIALS_HIGHEST 2000.0 /* Hz */

enum {
    PARTIALS_MOST = 20, /* harmonics */
};

typedef struct {
    uint32_t count;  /* harmonics that were measured, 1 or more */
    uint32_t frames; /* of 20 ms, that it is the mean of */
    double hz;
    double level[PARTIALS_MOST]; /* dB of its RMS; harmonic k at [k - 1] */
} PartialsPiece;

typedef struct {
    Voice voice;
    uint32_t seen;   /* where the voice's ring of frames was */
    uint32_t frames; /* frames of voice since the reset */

    Thin thin;
    uint32_t decimate;
    double rate; /* decimated, Hz */
    float *past; /* a ring of decimated samples */
    uint32_t past_size, past_at;
    uint32_t taken; /* decimated samples since the reset; wraps round, as does all that is counted in them */

    float *window; /* the frame being measured, windowed */
    uint32_t window_size;
    double frame_hz, frame_scale;
    double frame_level[PARTIALS_MOST];
    uint32_t frame_count, frame_at; /* harmonics, and those done */
    uint32_t per_cell;              /* harmonics measured at a grid point */
    bool measuring;
    double loudest, fade; /* power of the loudest frame lately, and how it falls from one to the next */
    bool tail;            /* the last frame that was measured was one */
    Held notes;
    HeldFound held; /* with the last tick */

    PartialsPiece sum; /* of the piece under way; hz: sum of its logarithms */
} Partials;

/* Allocates. false: no memory or rate out of range. */
bool partials_init(Partials *p, double rate);
void partials_done(Partials *p);  /* safe after an init that failed */
void partials_reset(Partials *p); /* nothing was heard */

/* Once a cell, at its start. true: a piece is complete. */
bool partials_tick(Partials *p, PartialsPiece *piece);

/* What the last tick brought of held notes: tails are none. */
HeldFound partials_held(const Partials *p);

/* At most a cell of samples, between grid points. */
void partials_process(Partials *p, const float *in, uint32_t n);

#endif
