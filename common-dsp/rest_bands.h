/* How loud a sound is in four bands, moment by moment, at next to no cost: around 180 Hz, where a voice's lowest
 * partials lie; around 700 Hz and 2.2 kHz, the duller and the brighter half of a breath; and above 4.5 kHz, where s, f
 * and t lie. The powers of both channels are summed, so that opposite polarity cancels nothing.
 *
 * The filters are three band-passes and a high-pass of two poles each, side by side (four.h), in float: that is precise
 * enough, since a faint sound shares its filter with a loud one only for as long as the filter rings. */
#ifndef LINCTUS_REST_BANDS_H
#define LINCTUS_REST_BANDS_H

#include "dsp.h"
#include "four.h"
#include "voicing.h"

enum { REST_BANDS = FOUR };

#define REST_BANDS_FAST 0.004 /* s: time constant of the one-pole that smooths power[] */

typedef struct {
    uint32_t channels;
    double rate, keep; /* Hz; keep: coefficient of the smoothing, a cell */
    Four b0, b1, b2, a1, a2;
    Four s1[DSP_CHANNELS], s2[DSP_CHANNELS], energy[DSP_CHANNELS];
    uint32_t n;            /* samples since the last rest_bands_tick() */
    uint32_t every, until; /* samples from one sign of the second band to the next, and left until then */
    Voicing signs;
    double cell[REST_BANDS];  /* mean square of the last cell, per channel */
    double power[REST_BANDS]; /* the same, smoothed */
} RestBands;

/* rate: Hz, DSP_RATE_MIN..DSP_RATE_MAX; channels: 1..DSP_CHANNELS. Reset: as if nothing had been heard. */
void rest_bands_init(RestBands *r, double rate, uint32_t channels);
void rest_bands_reset(RestBands *r);

/* n samples that lie within one cell. */
void rest_bands_process(RestBands *r, const float *const *in, uint32_t n);

/* Does the sound in the second band have a pitch? Costs too much to be asked at every cell (voicing.h). */
bool rest_bands_voiced(const RestBands *r);

/* Are powers in the bands spread as in a breath? */
bool rest_bands_breath(const double power[REST_BANDS]);

/* Call at each grid point: works out cell[] and power[] of the cell that has ended. */
void rest_bands_tick(RestBands *r);

#endif
