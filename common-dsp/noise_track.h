/* Follows a steady noise under a voice, bin by bin, from frames of short-time spectra (stft.h).
 *
 * A band holds noise alone while its power stays near the least of the last 1.4 s, of power smoothed over 50 ms (R.
 * Martin, "Noise power spectral density estimation based on optimal smoothing and minimum statistics", IEEE TSAP 9
 * (2001), from memory: the minimum over a window in parts). The estimate is the mean power of each bin over such
 * frames. Martin's bias compensation is not needed, as the minimum is not the estimate, only a gate. Tracking goes on
 * wherever a band is quiet, between phrases and under them. The gate, its figures and the limits below are ours.
 *
 * A held note is louder than noise for longer than any window. So the gate's level falls at once but rises by at most
 * 1 dB a second, which is enough for a noise that grows by 6 dB in 10 s.
 *
 * Digital silence, and anything below the noise of a converter, changes nothing. */
#ifndef LINCTUS_NOISE_TRACK_H
#define LINCTUS_NOISE_TRACK_H

#include "noise_memory.h"

enum { NOISE_PARTS = 4 }; /* parts of the window of the least power */

typedef struct {
    float smooth;             /* mean power of the band's bins, smoothed over 50 ms; 0: nothing heard yet */
    float least[NOISE_PARTS]; /* least power in each of the last parts of the window; 0: the current part */
    float level;              /* the least power with its rise limited; 0: no whole window heard yet */
    float mean;               /* mean power of the noise in the band's bins */
    float quiet;              /* frames of noise alone in that mean, up to NoiseTrack's `slowest` */
    uint32_t heard;           /* frames of the current part so far */
    uint32_t parts;           /* whole parts heard, up to NOISE_PARTS */
    bool known;               /* enough noise alone was heard */
} NoiseBand;

typedef struct {
    uint32_t bins, bands;           /* bands that have bins at this rate */
    uint32_t edge[NOISE_BANDS + 1]; /* first bin of each band, and the end */
    double density;                 /* power per Hz for a bin's power of 1 */
    float smoothing;                /* share of a new frame in `smooth` */
    float rise;                     /* largest ratio of a level to the one before */
    float silence;                  /* power of a bin below which a frame is silent */
    uint32_t part;                  /* frames in a part of the window */
    float slowest;                  /* most frames in the mean of a bin */
    float enough;                   /* frames of noise alone before a band is known */
    NoiseBand band[NOISE_BANDS];
    float *noise; /* power of the noise in each bin; undefined in bands that are not known */
} NoiseTrack;

/* size: samples in a frame; hop: samples from one frame to the next. Allocates; false: no memory. */
bool noise_track_init(NoiseTrack *t, double rate, uint32_t size, uint32_t hop);
void noise_track_done(NoiseTrack *t); /* safe on a zeroed one */

/* Starts from the memory: its bands are known, those of which it has nothing are not. */
void noise_track_start(NoiseTrack *t, const NoiseMemory *m);

/* Takes in the next frame's power in the bins of one band. most: upper limit of the noise, power per Hz; INFINITY:
 * none. */
void noise_track_hear(NoiseTrack *t, uint32_t band, const float *power, float most);

/* Density of the noise now, dB. The band has to be known. */
double noise_track_level(const NoiseTrack *t, uint32_t band);

#endif
