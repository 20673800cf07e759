/* Finds ticks, mouth clicks, for Ticks to take out: sounds of up to 5 ms that no sound leads into or continues.
 *
 * The sound's difference from sample to sample is predicted linearly, from what lies around it. A tick is a piece of
 * 0.5 ms whose prediction error is `over` dB stronger than any from 20 ms to 2.5 ms before it and from 4.5 ms to 15 ms
 * after it; 8 dB more where a sound begins behind it. Edits and missing samples are no ticks. Two ticks closer than 15
 * ms hide each other, unless one is far stronger. Method, sources and reasons: ticks.md.
 *
 * Check looks for clicks too (clicks.h), more strictly and later: a wrong report there blames the singer, a wrong
 * repair here is hardly heard. */
#ifndef LINCTUS_TICK_FINDER_H
#define LINCTUS_TICK_FINDER_H

#include "dsp.h"
#include "work.h"

enum {
    TICK_ORDER = 16,  /* of the predictor */
    TICK_PIECES = 10, /* in a frame of 5 ms */
    TICK_PIECE = 24,  /* samples in a piece, most */
    TICK_FRAME = TICK_PIECES * TICK_PIECE,
    TICK_PAST = 2048,             /* samples kept: more than TICK_LATE + TICK_EARLY pieces and those beside them */
    TICK_RING = 128,              /* pieces whose errors are kept */
    TICK_KEPT = 8,                /* frames whose predictors are kept */
    TICK_LONGEST = 12,            /* pieces in a tick, most */
    TICK_SPAN = TICK_LONGEST + 2, /* the same with one piece more on either side */
    TICK_LATE = 7 * TICK_PIECES,  /* pieces from the start of the frame that a tick is strongest in until it is found */
    TICK_EARLY = 5,               /* pieces by which a tick begins before its strongest one, at most */
};

typedef struct {
    uint64_t from; /* first sample, counted from the reset */
    uint32_t n, pieces;
    double over;              /* dB by which it stands out */
    double around;            /* mean power of the error before and after it */
    double error[TICK_SPAN];  /* power of the error in each of its pieces */
    double a[TICK_ORDER + 1]; /* predictor of the difference: a[0] is 1 */
} Tick;

typedef struct {
    uint32_t piece, frame; /* samples */
    float window[2 * TICK_FRAME];

    float last;
    float past[TICK_PAST]; /* the difference from sample to sample; a ring */
    uint64_t heard;        /* samples since the reset */
    uint64_t frames;       /* whole frames since the reset */
    uint32_t done;         /* steps done of the last whole frame's work */
    Work pace;             /* spreads those steps over a frame */

    float shaped[2 * TICK_FRAME + 32];       /* two frames under the window, then zeros */
    double alike[TICK_KEPT][TICK_ORDER + 4]; /* autocorrelation, by the last frame of its window */
    double a[TICK_KEPT][TICK_ORDER + 1];
    double error[TICK_RING];
    double heard_power[TICK_RING]; /* energy of the difference itself, by pieces of the incoming sound */
    double missing[TICK_RING];     /* energy of missing samples (clicks.h), by the same pieces */
    uint64_t pieces;               /* whose error is known */
} TickFinder;

/* rate: Hz, DSP_RATE_MIN..48000. Reset: as if nothing had been heard. */
void tick_finder_init(TickFinder *f, double rate);
void tick_finder_reset(TickFinder *f);

/* n samples, no more than are left of the piece under way. */
void tick_finder_hear(TickFinder *f, const float *x, uint32_t n);

/* Adds energy of missing samples (clicks.h) to a piece, counted from the reset: the one under way, or one up to a cell
 * later. */
void tick_finder_miss(TickFinder *f, uint64_t piece, double energy);

/* Call it when a piece has ended. over: dB, how far a tick stands out at least; longest: pieces, 1..TICK_LONGEST. true:
 * a tick was found, *tick. */
bool tick_finder_step(TickFinder *f, double over, uint32_t longest, Tick *tick);

/* ---- Stages, here for tests: both work on tables ---- */

/* Is piece `at` of a ring of TICK_RING errors (powers) the strongest of a tick? The ring must hold all pieces from
 * TICK_BEFORE before it to TICK_AFTER after it. If true, *tick gets over, around, pieces and error, and *first the
 * piece it begins with. */
bool tick_stands_out(const double *error, uint64_t at, double over, uint32_t longest, Tick *tick, uint64_t *first);
enum { TICK_BEFORE = 40, TICK_AFTER = 30, TICK_LATER = 56 };

/* dB by which a ring of powers is louder after piece `at` (up to TICK_LATER pieces) than before it (from TICK_BEFORE
 * pieces): the loudest 5 ms on each side. */
double tick_rise(const double *power, uint64_t at);

#endif
