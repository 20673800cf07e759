/* Clicks: of a mouth, a cut, a bad contact: sounds of some 5 ms that nothing around them announces or goes on with.
 *
 * A linear predictor (order 16) is made of what lies 20 ms before and after; a click stands out of what is left when
 * its prediction is taken off the signal's difference. Found is a piece of 1 ms that has CLICKS_OVER times the power of
 * any other from 30 ms before it to 35 ms after, but for its own neighbours. The method, its sources and what it
 * reaches: clicks.md.
 *
 * What stands out because a few samples are missing (exactly 0 in any channel, between others that are as loud as it)
 * is the damage's, no click.
 *
 * It listens to the half sum of two channels, at 32 to 64 kHz (lower rates as they are). The work of a frame of 10 ms
 * is spread over the next one. */
#ifndef LINCTUS_CLICKS_H
#define LINCTUS_CLICKS_H

#include "decimate.h"

enum {
    CLICKS_ORDER = 16,
    CLICKS_PIECES = 10, /* of 1 ms, in a frame */
    CLICKS_FRAME = 640, /* samples, most */
    CLICKS_PAST = 4096, /* samples kept: more than six frames */
    CLICKS_BEYOND = 32, /* more than lags and what rows.h adds to make rows whole */
    CLICKS_KEPT = 5,    /* frames whose autocorrelation is kept, */
    CLICKS_RING = 128,  /* and pieces */
};

#define CLICKS_OVER 40.0 /* times: 16 dB */

/* Samples that are missing, in one channel. */
typedef struct {
    float sound;    /* the last sample that was not 0 */
    uint32_t zeros; /* since */
} ClicksGap;

typedef struct {
    uint32_t channels, factor, frame; /* samples in a frame, after decimation */
    double scale;                     /* of the difference's power: 1 for a tone of 3 kHz */
    Decimator slow;
    float window[2 * CLICKS_FRAME];

    float last;
    float past[CLICKS_PAST]; /* the difference; a ring */
    uint64_t heard, frames;  /* samples of it, whole frames */
    uint32_t into;           /* samples into the frame that comes in */
    uint64_t due;            /* frame under work, counted from 0; 0: none yet */
    uint32_t done;           /* steps of it */

    float shaped[2 * CLICKS_FRAME + CLICKS_BEYOND]; /* silence behind it */
    double alike[CLICKS_KEPT][CLICKS_ORDER + 1];    /* autocorrelation, by frame */
    double predictor[CLICKS_ORDER + 1];
    double piece[CLICKS_RING], gain[CLICKS_RING]; /* power; what its predictor makes of one sample that is off */
    ClicksGap gap[DSP_CHANNELS];
    double missing[CLICKS_RING];      /* energy, by pieces of the incoming sound */
    uint64_t incoming, incoming_ends; /* the piece that comes in; samples where it ends */
    uint64_t pieces;

    bool found;
    double db;
} Clicks;

/* rate: DSP_RATE_MIN..DSP_RATE_MAX; channels: 1..DSP_CHANNELS. */
void clicks_init(Clicks *c, double rate, uint32_t channels);
void clicks_reset(Clicks *c);

/* The next sample of a channel; the energy that is missing, where it ends a gap, else 0: of the gap's samples, as loud
 * as those around it on average; of a long one the edges are heard; of one over `longest` samples, which is digital
 * silence, nothing. */
double clicks_missing(ClicksGap *g, float x, uint32_t longest);

/* Is so much prediction error, energy, with a predictor of that gain (the sum of its coefficients' squares), no more
 * than so much missing energy makes? */
bool clicks_is_damage(double error, double gain, double missing); /* nothing was heard */

/* n: at most DSP_CELL. */
void clicks_process(Clicks *c, const float *const *in, uint32_t n);

/* true once for each click; call it after each cell. *db: its level over 1 ms, of the difference, which reads right for
 * a tone of 3 kHz; it was CLICKS_LAG seconds ago, to 10 ms. */
bool clicks_found(Clicks *c, double *db);
#define CLICKS_LAG 0.08

#endif
