/* The mains hum of a take that is known as a whole: where its fundamental stood at every moment, and how every harmonic
 * was made up. What came after a moment tells as much of it as what came before, so a hum that a voice covers is known
 * from the rests on both sides; hum_follower.h, which plays along, knows one side alone.
 *
 * The rests (the quietest windows) tell where the fundamental turned from one to the next. From there on it is one
 * curve through all windows of the take: the smoothest that goes where the harmonics say, each by what it is worth
 * there; what each is worth is judged anew by the curve found, and so on, from the rests outwards. A curve that is
 * smooth in this sense: E. Whittaker, Proc. Edinburgh Math. Soc. 41, 1923; weights by what is left over: P. Holland, R.
 * Welsch, Commun. Statist. A6, 1977; both from memory. How voice and hum are told apart is this project's own.
 *
 * Limits: the fundamental within 1.3 % of 50 or 60 Hz; a take without rests of 0.25 s, or whose rests do not agree on a
 * hum, is not settled. A stretch from one rest to the next in which the curve goes astray (its lowest harmonics agree
 * with it no better than chance) is not told: mostly the first seconds, if a voice covers them, since they are known
 * from one side alone. If less than a quarter of the take is told, the take is not settled. Where nothing at all comes
 * in, there is no hum. */
#ifndef LINCTUS_HUM_TRACK_H
#define LINCTUS_HUM_TRACK_H

#include "hum_follower.h"

typedef struct {
    FollowerRows heard[DSP_CHANNELS]; /* of each harmonic, beside the reference */
    FollowerRows hum[DSP_CHANNELS];   /* as it is */
    FollowerRow voice[DSP_CHANNELS];  /* power of what a voice does to each */
    double phase;                     /* rad, of the fundamental's reference in the window's middle, beyond the
                                         nominal frequency's */
    double power;                     /* of the window */
    double away;                      /* s: from the next rest that tells where it stands */
    bool quiet, silent;               /* it lies in a rest; in nothing at all */
    bool told;                        /* it is known where the hum stands there */
} HumTrackBlock;

/* A rest that tells: what its windows have in common. */
typedef struct {
    uint32_t from, to;   /* blocks, one past the last */
    double phase, speed; /* in its middle, as above; rad/s, beyond the nominal */
    FollowerRows mean[DSP_CHANNELS];
    bool linked;
} HumTrackRest;

/* A take in points (hum_points.h). */
typedef struct {
    double rate; /* of the take */
    uint32_t channels, stride, points;
    const float *point[DSP_CHANNELS];
} HumTrackTake;

typedef struct {
    HumTrackTake take;                         /* its points are looked at in hum_track_find() alone */
    double nominal;                            /* rad/s */
    double seconds;                            /* of a block */
    uint32_t harmonics, length, blocks, rests; /* length: points of a block */
    FollowerRow scale;
    HumTrackBlock *block;
    HumTrackRest *rest;
    double *work;                     /* rows of one number a block */
    FollowerRows shape[DSP_CHANNELS]; /* over all rests */
    FollowerRow noise[DSP_CHANNELS];  /* how far the rests usually are from it: power */
    FollowerRow trust[DSP_CHANNELS];  /* 1 / power of its noise, guessed from its loudness before it is known */
    bool settled;
} HumTrack;

/* Finds the hum of a family (0: 50 Hz, 1: 60 Hz) and of about `db` in the rests. `settled` tells whether it was there.
 * Allocates; false: no memory. hum_track_done() in any case. */
bool hum_track_find(HumTrack *t, const HumTrackTake *take, uint32_t family, double db);
void hum_track_done(HumTrack *t); /* safe on a zeroed one, and twice */

/* For n samples, up to DSP_CELL, from number `at` on: hum[c] is what to subtract, without harmonics over `up_to` Hz;
 * told: 0..1, how far the hum is known there. Exactly 0 if the take is not settled. */
void hum_track_play(const HumTrack *t, uint64_t at, double up_to, float *const *hum, float *told, uint32_t n);

#endif
