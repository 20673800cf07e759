/* Finds clicks: isolated sounds of about 5 ms, of a mouth, a cut or a bad contact, that nothing before announces and
 * nothing after goes on with.
 *
 * The signal's difference is predicted linearly (order 16) from what lies 20 ms before and after; a click stands out in
 * the prediction error. It is a piece of 1 ms with CLICKS_OVER times the power of any other from 30 ms before it to
 * 35 ms after, its own neighbours excepted. Method, sources and what is reached: clicks.md.
 *
 * Where the error comes from a few missing samples (exactly 0 in any channel, between others as loud as the error), it
 * is damage and no click.
 *
 * Two channels are heard as their half sum, at 32 to 64 kHz (lower rates as they are). The work of a frame of 10 ms is
 * spread over the next one. */
#ifndef LINCTUS_CLICKS_H
#define LINCTUS_CLICKS_H

#include "decimate.h"

enum {
    CLICKS_ORDER = 16,  /* of the predictor */
    CLICKS_PIECES = 10, /* pieces of 1 ms in a frame */
    CLICKS_FRAME = 640, /* samples: the longest frame */
    CLICKS_BEYOND = 32, /* samples: more than the lags and what rows.h adds to make rows whole */
    CLICKS_KEPT = 5,    /* frames whose autocorrelation is kept */
    CLICKS_RING = 128,  /* pieces that are kept */
};

#define CLICKS_OVER 40.0 /* power ratio, 16 dB: least of a click to the pieces around it; chosen as in clicks.c */

/* A run of missing samples in one channel. */
typedef struct {
    float sound;    /* the last sample that was not 0 */
    uint32_t zeros; /* samples of 0 since then */
} ClicksGap;

typedef struct {
    uint32_t channels, factor, frame; /* samples in a frame, after decimation */
    double scale;                     /* factor on the difference's power that makes a tone of 3 kHz read right */
    Decimator slow;
    float *memory; /* the block that holds the three below */
    float *window; /* one half, the other mirrors it */
    float *shaped; /* the windowed frame, silence behind it */

    float last;             /* the last sample */
    float *past;            /* the difference, a ring */
    uint32_t kept, at;      /* samples in the ring; where the next goes */
    uint64_t heard, frames; /* samples of the difference; whole frames */
    uint32_t into;          /* samples into the frame that comes in */
    uint64_t due;           /* frame under work, counted from 0; 0: none yet */
    uint32_t done;          /* steps of its work that are done */

    double alike[CLICKS_KEPT][CLICKS_ORDER + 4]; /* autocorrelation, by frame */
    double predictor[CLICKS_ORDER + 1];
    double piece[CLICKS_RING], gain[CLICKS_RING]; /* power of a piece's error; gain of its predictor */
    ClicksGap gap[DSP_CHANNELS];
    double missing[CLICKS_RING];      /* missing energy, by pieces of the incoming sound */
    uint64_t incoming, incoming_ends; /* the piece that comes in; its end, in samples */
    uint64_t pieces;                  /* pieces whose error is known */

    bool found;
    double db;
} Clicks;

/* rate: DSP_RATE_MIN..DSP_RATE_MAX; channels: 1..DSP_CHANNELS. Allocates; false: no memory. Reset: nothing was heard.
 */
bool clicks_init(Clicks *c, double rate, uint32_t channels);
void clicks_done(Clicks *c); /* safe on a zeroed one */
void clicks_reset(Clicks *c);

/* Takes the next sample of a channel. Returns the missing energy if the sample ends a gap, else 0. The missing samples
 * count as loud as those around the gap on average, and of a long gap only its edges count. A gap of over `longest`
 * samples is digital silence and misses nothing. */
double clicks_missing(ClicksGap *g, float x, uint32_t longest);

/* Whether the missing energy explains the prediction error, both as energies. gain: sum of the squares of the
 * predictor's coefficients. */
bool clicks_is_damage(double error, double gain, double missing);

/* Hears the next n samples, at most DSP_CELL. */
void clicks_process(Clicks *c, const float *const *in, uint32_t n);

/* true once for each click; call it after each cell. *db: level of the difference over 1 ms, which reads right for a
 * tone of 3 kHz. The click was CLICKS_LAG seconds ago, to within 10 ms. */
bool clicks_found(Clicks *c, double *db);
#define CLICKS_LAG 0.08 /* s */

#endif
