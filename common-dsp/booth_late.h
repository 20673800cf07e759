/* By how much each bin of a spectrum (stft.h) is turned down so that a room's late sound goes, and the voice and its
 * early reflections stay.
 *
 * The late sound's power follows from what was heard before: it comes `from` seconds after the early sound and later,
 * and falls by 60 dB in the room's decay time. That is K. Lebart, J. Boucher, P. Denbigh, "A new method based on
 * spectral subtraction for speech dereverberation", Acta Acustica 87 (2001), with what E. Habets (2007; with S. Gannot
 * and I. Cohen, IEEE SPL 16 (2009)) added to it, how strong the direct sound is; both from memory. Here, in each bin,
 *
 *     late[n] = keep late[n - 1] + feed early[n - lag],  early[n] = share power[n]
 *
 * where the share is what the late sound leaves of the power of the bins around (bands of 250 Hz or a fifth of their
 * frequency): of a single bin, whose power sways, it would be too much.
 *
 * The gain is Wiener's, early over all power, with the ratio of the two by the decision-directed rule (Y. Ephraim, D.
 * Malah, IEEE TASSP 32 (1984), and P. Scalart, J. Filho, ICASSP 1996; from memory), with less smoothing than for a
 * noise, since late sound moves. On the voices that constants were set on, the log-spectral amplitude of noise_gain.h
 * took a tenth less of the late sound for the same loss of early sound, and the root of Wiener's gain was worse.
 *
 * Where the bins around hold hardly more than late sound, as in the gaps after words, all of them get up to 12 dB less:
 * that keeps single bins from standing out, which is what musical noise is. The idea of a gain that goes to the lowest
 * where no speech is likely is I. Cohen's (Signal Processing 81 (2001), from memory); the rule is ours. */
#ifndef LINCTUS_BOOTH_LATE_H
#define LINCTUS_BOOTH_LATE_H

#include "booth_memory.h"

enum { BOOTH_AROUND = 44 }; /* most bands of bins that are looked at together */

#define BOOTH_LATEST       0.1  /* s: longest time after which a sound is late */
#define BOOTH_LEARNED_FROM 0.05 /* s: what `late` of a room speaks of */

typedef struct {
    double frame;                    /* s from one frame to the next */
    uint32_t bins, bands;            /* bands that have bins at this rate */
    uint32_t edge[BOOTH_AROUND + 1]; /* first bin of each band, and the end */
    double hz[BOOTH_AROUND];         /* middle of each */
    uint32_t lag;
    float keep[BOOTH_AROUND], feed[BOOTH_AROUND];
    float counts;
    uint32_t rows, now;            /* of the ring: frames of the longest lag, and one more; place */
    float trust;                   /* of the a priori ratio: the share of what the last frame gave */
    float *memory;                 /* all that follow, for each bin: */
    float *late, *smooth, *before; /* powers; the last frame's a priori ratio */
    float *early;                  /* a ring of rows */
} BoothLate;

/* bins of a frame of `size` samples, every `hop` samples. Allocates; false: no memory. */
bool booth_late_init(BoothLate *l, double rate, uint32_t size, uint32_t hop);
void booth_late_done(BoothLate *l); /* safe on a zeroed one */
void booth_late_reset(BoothLate *l);

/* The room from now on. from: s after which a sound is late, 0.03..BOOTH_LATEST; counts: what is taken for the late
 * sound's power, over what is known. A room without decay times adds nothing. */
void booth_late_room(BoothLate *l, const BoothRoom *room, double from, double counts);

/* A new frame. Then each band once: */
void booth_late_next(BoothLate *l);

/* power: of the band's bins, over both channels. gain: of each, 0..1; exactly 1 where the room adds nothing.
 * They may not lie in one place. */
void booth_late_gains(BoothLate *l, uint32_t band, const float *power, float *gain);

#endif
