/* Follows a steady noise under a voice, bin by bin, from frames of short-time spectra (stft.h).
 *
 * Where: the least power of each band over the last 1.4 s, of power smoothed over 50 ms, tells when the band holds
 * noise alone: while it stays near that least (R. Martin, "Noise power spectral density estimation based on optimal
 * smoothing and minimum statistics", IEEE TSAP 9 (2001), from memory: the minimum over a window in parts; his bias
 * compensation is not needed, since the minimum is no estimate here, only a gate). What: the mean power of each bin
 * over such frames. So the estimate is the noise's mean, not a minimum that has to be corrected, and between the
 * phrases and under them, wherever a band is quiet, it goes on. The gate, its figures and the limits below are ours.
 *
 * A held note is louder than noise for longer than any window. So the gate's level falls at once but rises by 1 dB a
 * second at most, which a noise that grows by 6 dB in 10 s stays under.
 *
 * Digital silence and what lies under any converter's own noise tell nothing, and everything stays as it was. */
#ifndef LINCTUS_NOISE_TRACK_H
#define LINCTUS_NOISE_TRACK_H

#include "noise_memory.h"

enum { NOISE_PARTS = 4 }; /* of the window of the least power */

typedef struct {
    float smooth;             /* power, the mean of the band's bins, over 50 ms; 0: nothing heard yet */
    float least[NOISE_PARTS]; /* of the last parts of the window, newest first; the newest is under way */
    float level;              /* what the band's least is taken for; 0: not a whole window heard yet */
    float mean;               /* of the noise's power in its bins */
    float quiet;              /* frames of noise alone that the mean is of, up to a most */
    uint32_t heard;           /* frames of this part of the window */
    uint32_t parts;           /* whole parts heard, up to NOISE_PARTS */
    bool known;
} NoiseBand;

typedef struct {
    uint32_t bins, bands;           /* bands that have bins at this rate */
    uint32_t edge[NOISE_BANDS + 1]; /* first bin of each band, and the end */
    double density;                 /* what makes power a Hz of a bin's power */
    float smoothing, rise, silence;
    uint32_t part; /* frames of a part of the window */
    float slowest; /* frames that the mean of a bin is of, at most */
    float enough;  /* frames before a band is known */
    NoiseBand band[NOISE_BANDS];
    float *noise; /* power of each bin; of a band that is not known, anything */
} NoiseTrack;

/* bins of a frame of `size` samples, every `hop` samples. Allocates; false: no memory. */
bool noise_track_init(NoiseTrack *t, double rate, uint32_t size, uint32_t hop);
void noise_track_done(NoiseTrack *t); /* safe on a zeroed one */

/* Nothing is known. */
void noise_track_reset(NoiseTrack *t);

/* The band is known to hold what the memory says; not known where that says nothing. */
void noise_track_start(NoiseTrack *t, const NoiseMemory *m);

/* The next frame's power in the bins of one band. most: power a Hz that the noise is at most taken for; INFINITY: any.
 */
void noise_track_hear(NoiseTrack *t, uint32_t band, const float *power, float most);

/* dB of density, now. The band is known. */
double noise_track_level(const NoiseTrack *t, uint32_t band);

#endif
