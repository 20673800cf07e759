/* How loud a sound is in four bands, moment by moment, at next to no cost: about 180 Hz, where a voice's lowest
 * partials lie; about 700 Hz and about 2.2 kHz, the duller and the brighter half of a breath; and above 4.5 kHz, where
 * s, f and t lie. The powers of both channels are summed, so that one channel against the other hides nothing.
 *
 * The bands are band-passes of two poles and one high-pass, side by side (four.h), in float: what is faint stands
 * beside nothing loud for longer than they ring. */
#ifndef LINCTUS_REST_BANDS_H
#define LINCTUS_REST_BANDS_H

#include "dsp.h"
#include "four.h"
#include "voicing.h"

enum { REST_BANDS = FOUR };

#define REST_BANDS_FAST 0.004 /* s: how power[] is smoothed, one pole */

typedef struct {
    uint32_t channels;
    double rate, keep; /* of the smoothing, a cell */
    Four b0, b1, b2, a1, a2;
    Four s1[DSP_CHANNELS], s2[DSP_CHANNELS], energy[DSP_CHANNELS];
    uint32_t n;            /* samples since the last tick */
    uint32_t every, until; /* samples of one sign of the second band, and to the next */
    Voicing signs;
    double cell[REST_BANDS];  /* mean square of the last cell, a channel */
    double power[REST_BANDS]; /* the same, smoothed */
} RestBands;

/* rate: DSP_RATE_MIN..DSP_RATE_MAX; channels: 1..DSP_CHANNELS. Reset: nothing was heard. */
void rest_bands_init(RestBands *r, double rate, uint32_t channels);
void rest_bands_reset(RestBands *r);

/* n samples of one cell. */
void rest_bands_process(RestBands *r, const float *const *in, uint32_t n);

/* Has what sounds in the second band a pitch? Not for every cell. */
bool rest_bands_voiced(const RestBands *r);

/* A grid point: what the last cell brought. */
void rest_bands_tick(RestBands *r);

#endif
