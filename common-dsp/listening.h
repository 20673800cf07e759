/* Listening: cuts a take into frames of about 10 ms and hands each over once it is known whether a voice sounds in it
 * (voice.h). That answer comes about 0.4 s late; matching it to the sound it is about is done here alone. What a
 * processor learns is a fold over these frames: each updates its memory, and no audio is needed for that.
 *
 * A processor says at init which parts of a frame it uses; no others are computed. On hold it does not call
 * listening_process() at all; when learning starts afresh it calls listening_reset() first.
 *
 * Of two channels a living one stands in for a dead one (living.h), powers are those of both, and the voice is looked
 * for in half their sum. Samples are undamaged (dsp.h). */
#ifndef LINCTUS_LISTENING_H
#define LINCTUS_LISTENING_H

#include "living.h"
#include "loudness.h"
#include "voice.h"

enum { LISTENING_FRAMES = 48 }; /* frames kept: more than ever wait for their answer */

/* Optional parts, computed on request. Whether a voice sounds, and its pitch, is always computed. */
enum {
    LISTENING_POWER = 1,    /* `power` and `sum` of each frame */
    LISTENING_WEIGHTED = 2, /* listening_cell_energy() */
};

typedef struct {
    double power;            /* sum of the samples' squares; with two channels, the mean of both sums */
    float sum[DSP_CHANNELS]; /* sum of the samples of each channel; with one channel, both are its sum */
    float peak;              /* highest value given to listening_peak() */
    uint32_t sounding;       /* cells of the frame in which a voice sounds */
    double hz;               /* pitch, 60..1100, as known when the frame was handed over; 0: no voice sounds */
} ListeningFrame;

/* How the take is cut: every `samples` samples into `frames` frames, each to the nearest sample. */
typedef struct {
    uint32_t samples, frames; /* samples / frames: DSP_CELL or more */
    bool whole_cells; /* true: `samples` is a multiple of DSP_CELL, an answer is about a whole cell, and a frame is
                         handed over with the answer about its last. false: an answer is about a sample, and a frame is
                         handed over with the answer about the first sample after it. */
} ListeningGrid;

/* 100 ms, to the nearest sample, in ten frames. */
ListeningGrid listening_hops(double rate);

typedef struct {
    uint32_t channels, parts;
    ListeningGrid grid;
    uint32_t late, ahead; /* samples: an answer is about the sound of `late` ago, and the `ahead` samples after it */
    Living living;
    Voice voice;
    bool told, told_sounding; /* the caller says whether a voice sounds; what it said last */
    KWeight weight;
    const float *sound[DSP_CHANNELS];          /* what the last listening_process() returned */
    uint32_t cell;                             /* samples of the current cell so far */
    double cell_energy;                        /* K-weighted energy of it so far */
    uint64_t heard;                            /* samples since the reset */
    uint64_t filling, waiting;                 /* numbers of the current frame, and of the first without an answer */
    uint64_t filling_ends_at, waiting_ends_at; /* where those end, samples */
    ListeningFrame ring[LISTENING_FRAMES];
} Listening;

/* parts: values of the enum above, added up. Allocates. false: no memory, or rate, channels (1..DSP_CHANNELS) or grid
 * out of range. */
bool listening_init(Listening *l, double rate, uint32_t channels, ListeningGrid grid, uint32_t parts);
void listening_done(Listening *l);  /* safe after an init that failed */
void listening_reset(Listening *l); /* back to the state before the first sample */

/* Takes in n samples, no more than are left of the cell. Returns the channels with a dead one replaced, valid until the
 * next call. */
const float *const *listening_process(Listening *l, const float *const *in, uint32_t n);

/* ---- At a grid point, in this order ---- */

/* True when samples came in since the last grid point. */
bool listening_heard(const Listening *l);

/* K-weighted energy of the cell that has ended: the sum of squares over samples and channels. */
double listening_cell_energy(const Listening *l);

/* Reports the peak of that cell, for its frame's `peak`. */
void listening_peak(Listening *l, float peak);

/* For a caller that knows the answer already, from a detector that hears the same take in step: it says what
 * voice_sounding() would be now. From then on no voice is looked for here, and frames have no pitch. Call it at every
 * grid point. */
void listening_told(Listening *l, bool sounding);

/* Begins the next cell. Returns the frame that was answered since the last grid point, valid until the next call; NULL:
 * none was. */
const ListeningFrame *listening_frame(Listening *l);

/* The end of frame `number`, in samples since the reset: the index of the first sample after it. */
uint64_t listening_frame_end(const Listening *l, uint64_t number);

#endif
