/* Finds ticks, the clicks of a mouth, for Ticks to take out: sounds of up to 5 ms that nothing around them announces or
 * goes on with.
 *
 * Speech is nearly what a linear predictor makes of what came before; what is left when the prediction is taken off,
 * its error, shows the excitation: the pulses of the voice, hiss, and ticks (S. Vaseghi, "Detection and suppression of
 * impulsive noise in speech communication systems", 1988; from memory, not opened). The predictor has order 16
 * (linear_prediction.h, Hann windows of 10 ms) and is made of the 10 ms before a frame of 5 ms
 * and the 10 ms after it, so that a tick has no part in it. The difference of the sound is looked at, in which voices
 * are weak.
 *
 * A tick is a piece of 0.5 ms whose error is `over` dB stronger than the strongest from 20 ms to 2.5 ms before it and
 * from 4.5 ms to 15 ms after it. A voice of 65 Hz or more has a pulse of its own before, as strong as this one; the
 * burst of a t, k or p is followed by its breath; a consonant goes on. Where a sound begins within 28 ms, as behind the
 * burst of a b, d or g, a tick stands out by 8 dB more: that is where the difference has 5 ms 8.5 dB louder than any
 * from 20 ms to 2.5 ms before. What stands between digital silence and sound is an edit, and what stands out because
 * samples are missing is damage. Two ticks closer than 15 ms hide each other, unless one is far stronger: that is the
 * limit of the method. Which pieces belong to the tick: those around it that stand 6 dB over the mean of what is before
 * and after.
 *
 * Check looks for clicks too (clicks.h), more strictly and later: a wrong word there blames the singer, a wrong repair
 * here is hardly heard. */
#ifndef LINCTUS_TICK_FINDER_H
#define LINCTUS_TICK_FINDER_H

#include "dsp.h"

enum {
    TICK_ORDER = 16,
    TICK_PIECES = 10, /* in a frame */
    TICK_PIECE = 24,  /* samples, most */
    TICK_FRAME = TICK_PIECES * TICK_PIECE,
    TICK_PAST = 2048,             /* samples kept: TICK_LATE + TICK_EARLY pieces and what is beside, and more */
    TICK_RING = 128,              /* pieces kept, */
    TICK_KEPT = 8,                /* and frames' predictors */
    TICK_LONGEST = 12,            /* pieces of a tick, most */
    TICK_SPAN = TICK_LONGEST + 2, /* and with one to either side */
    TICK_LATE = 7 * TICK_PIECES,  /* pieces from the beginning of the frame that it is strongest in to its answer */
    TICK_EARLY = 5,               /* pieces that it begins, at most, before the one where it is strongest */
};

typedef struct {
    uint64_t from; /* sample, counted from the reset */
    uint32_t n, pieces;
    double over;              /* dB: by how much it stands out */
    double around;            /* power of the error before and after it */
    double error[TICK_SPAN];  /* and in its pieces */
    double a[TICK_ORDER + 1]; /* the predictor, of the difference: a[0] is 1 */
} Tick;

typedef struct {
    uint32_t piece, frame; /* samples */
    float window[2 * TICK_FRAME];

    float last;
    float past[TICK_PAST]; /* the difference; a ring */
    uint64_t heard;        /* samples */
    uint64_t frames;       /* whole ones */
    uint32_t done;         /* steps of the work that the last whole frame brought */

    float shaped[2 * TICK_FRAME + 32];       /* then zeros */
    double alike[TICK_KEPT][TICK_ORDER + 4]; /* autocorrelation, by the last frame of its window */
    double a[TICK_KEPT][TICK_ORDER + 1];
    double error[TICK_RING];
    double heard_power[TICK_RING]; /* of the difference itself, by pieces of the incoming sound, */
    double missing[TICK_RING];     /* and the energy of samples that are missing */
    uint64_t pieces;               /* of which the error is known */
} TickFinder;

/* rate: DSP_RATE_MIN to 48 kHz. */
void tick_finder_init(TickFinder *f, double rate);
void tick_finder_reset(TickFinder *f);

/* n samples: no more than are left of a piece. */
void tick_finder_hear(TickFinder *f, const float *x, uint32_t n);

/* So much energy is missing (clicks.h) in a piece, counted from the reset: that under way, or one up to a cell on. */
void tick_finder_miss(TickFinder *f, uint64_t piece, double energy);

/* Call it when a piece has ended. over: dB; longest: pieces, 1..TICK_LONGEST. true: *tick is one. */
bool tick_finder_step(TickFinder *f, double over, uint32_t longest, Tick *tick);

/* ---- Stages, for tests: both from tables ---- */

/* Is piece `at` of a ring of errors a tick? All from TICK_BEFORE before to TICK_AFTER after it are there. *tick gets
 * over, around, pieces, error; returns the piece it begins with in *first. */
bool tick_stands_out(const double *error, uint64_t at, double over, uint32_t longest, Tick *tick, uint64_t *first);
enum { TICK_BEFORE = 40, TICK_AFTER = 30, TICK_LATER = 56 };

/* dB by which a ring of powers is stronger behind piece `at` than before it, up to TICK_LATER after and from
 * TICK_BEFORE before: the loudest 5 ms of each. */
double tick_rise(const double *power, uint64_t at);

#endif
