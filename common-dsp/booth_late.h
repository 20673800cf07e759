/* Late sound: the gain of each bin of a spectrum (stft.h) that turns a room's late sound down and keeps the voice and
 * its early reflections.
 *
 * The late sound's power follows from what was heard before. In each bin
 *
 *     late[n] = keep late[n - 1] + feed early[n - lag],  early[n] = share power[n]
 *
 * where `share` is what late sound and a steady noise leave of the power in the bins around, bands of 250 Hz or a fifth
 * of their frequency. The gain is Wiener's, early over all power; where the bins around hold hardly more than late
 * sound, all of them get up to 12 dB less. Sources, the highs of a room, and what else was tried: booth.md. */
#ifndef LINCTUS_BOOTH_LATE_H
#define LINCTUS_BOOTH_LATE_H

#include "booth_memory.h"

enum { BOOTH_AROUND = 44 }; /* most bands; the bins of a band are judged together */

#define BOOTH_LATEST 0.1 /* s: the longest `from` */

typedef struct {
    double frame;                    /* s from one frame to the next */
    uint32_t bins, bands;            /* bands that have bins at this rate */
    uint32_t edge[BOOTH_AROUND + 1]; /* first bin of each band, and the end */
    double hz[BOOTH_AROUND];         /* middle of each band, Hz */
    uint32_t lag;                    /* frames after which a sound is late */
    float keep[BOOTH_AROUND], feed[BOOTH_AROUND];
    float noise[BOOTH_AROUND];     /* power of the steady noise in all bins of the band; 0: nothing heard yet */
    float rise;                    /* factor on it, each frame, while the band lies over it */
    float counts;                  /* factor on the late sound's power, as booth_late_room() was told */
    uint32_t rows, now;            /* of the ring: frames of the longest lag, and one more; the row in use */
    float trust;                   /* weight of the last frame in the a priori ratio */
    float *memory;                 /* holds the four below, for each bin: */
    float *late, *smooth, *before; /* powers, late and smoothed; the last frame's a priori ratio */
    float *early;                  /* power, a ring of rows */
} BoothLate;

/* For frames of `size` samples, one every `hop` samples. Allocates; false: no memory. Reset: nothing was heard. */
bool booth_late_init(BoothLate *l, double rate, uint32_t size, uint32_t hop);
void booth_late_done(BoothLate *l); /* safe on a zeroed one */
void booth_late_reset(BoothLate *l);

/* The room from now on; one without decay times adds nothing. from: s after which a sound is late, 0.03..BOOTH_LATEST.
 * counts: factor on the late sound's power that the room gives. */
void booth_late_room(BoothLate *l, const BoothRoom *room, double from, double counts);

/* Begins a frame. Then booth_late_gains() has to be called once for each band. */
void booth_late_next(BoothLate *l);

/* power: of the band's bins, summed over the channels. gain: of each bin, 0..1; exactly 1 where the room adds nothing.
 * The two may not overlap. */
void booth_late_gains(BoothLate *l, uint32_t band, const float *power, float *gain);

#endif
