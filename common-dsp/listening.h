/* Listening: a take as a processor hears it, in frames of about 10 ms, each handed over once it is known whether a
 * voice sounds in it (voice.h). That answer comes about 0.4 s late; here alone it is laid on the sound that it speaks
 * of. What a processor learns is a fold over these frames: of its memory and the next frame, without any audio.
 *
 * A processor says at init which parts of a frame it uses; no other part is computed. On hold it does not call
 * listening_process() at all; learning that starts afresh begins with listening_reset().
 *
 * Of two channels a living one stands in for a dead one (living.h), powers are those of both, and the voice is looked
 * for in their half sum. Samples are undamaged (dsp.h), so there is no damage to be marked. */
#ifndef LINCTUS_LISTENING_H
#define LINCTUS_LISTENING_H

#include "living.h"
#include "loudness.h"
#include "voice.h"

enum { LISTENING_FRAMES = 48 }; /* kept: more than wait for their answer */

/* Parts of what is heard that have to be asked for. Where a voice sounds, and its pitch, is always heard. */
enum {
    LISTENING_POWER = 1,    /* of a frame, and its sums */
    LISTENING_WEIGHTED = 2, /* of a cell, after K weighting */
};

typedef struct {
    double power;            /* the samples' squares, summed over the frame; of two channels their mean */
    float sum[DSP_CHANNELS]; /* of the samples of each channel, with one channel twice */
    float peak;              /* the highest that listening_peak() was told */
    uint32_t sounding;       /* cells in which a voice sounds */
    double hz; /* pitch, 60..1100, as the answer stood when the frame was handed over; 0: no voice sounds */
} ListeningFrame;

/* How the take is cut into frames: so many to a stretch of so many samples, each to the nearest sample. */
typedef struct {
    uint32_t samples, frames; /* of a stretch; frames longer than a cell */
    bool whole_cells; /* A stretch is so many cells, and an answer speaks of a whole cell: a frame is handed over with
                         its last. Otherwise an answer speaks of a sample: a frame is handed over with the first that
                         lies behind it. */
} ListeningGrid;

/* 100 ms to the nearest sample, in ten frames. */
ListeningGrid listening_hops(double rate);

typedef struct {
    uint32_t channels, parts;
    ListeningGrid grid;
    uint32_t late, ahead; /* samples: an answer is of the sound that came `late` ago; of the samples up to `ahead` on */
    Living living;
    Voice voice;
    KWeight weight;
    const float *sound[DSP_CHANNELS]; /* of the last call, as it is heard */
    uint32_t cell;                    /* samples of the cell under way */
    double cell_energy;
    uint64_t heard;            /* samples since the reset */
    uint64_t filling, waiting; /* numbers of the frame under way, and of the first without an answer */
    uint64_t filling_ends_at, waiting_ends_at;
    ListeningFrame ring[LISTENING_FRAMES];
} Listening;

/* Allocates. parts: of the enum above, added up. false: no memory, or rate, channels (1..DSP_CHANNELS) or frames out of
 * range. */
bool listening_init(Listening *l, double rate, uint32_t channels, ListeningGrid grid, uint32_t parts);
void listening_done(Listening *l);  /* safe after an init that failed */
void listening_reset(Listening *l); /* nothing was heard */

/* n: what is left of the cell or less. Returns the channels as they are heard, until the next call. */
const float *const *listening_process(Listening *l, const float *const *in, uint32_t n);

/* ---- At a grid point, in this order ---- */

/* Was anything heard since the last grid point? */
bool listening_heard(const Listening *l);

/* The energy of the cell that has ended, after K weighting: squares, summed over samples and channels. */
double listening_cell_energy(const Listening *l);

/* The highest peak of that cell: for its frame's `peak`. */
void listening_peak(Listening *l, float peak);

/* The frame that was answered since the last grid point, until the next call; NULL: none. Begins the next cell. */
const ListeningFrame *listening_frame(Listening *l);

/* The sample, counted from the reset, with which the frame of this number ends: the first that lies behind it. */
uint64_t listening_frame_end(const Listening *l, uint64_t number);

#endif
