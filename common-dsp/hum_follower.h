/* A mains hum followed: its fundamental (hum_turn.h), and the amplitude and phase of every harmonic, so that it can be
 * put out by itself and subtracted at once, without delay. How: hum_follower.md.
 *
 * A hum is put out once it is sure: steady, and proved from one rest to the next; or of a make-up that is known from
 * before: that is put out from the first moment on that shows clearly where it stands, mostly in the first rest. A hum
 * that was lost is found again in the same way.
 * No note bends it, however long it lies on a harmonic.
 *
 * Limits: under the voice a hum is followed only as well as some of its harmonics stand out. A take without rests of
 * 0.2 s is not mended. It works at points 1/6000 s apart; in between it interpolates by cubics that have the right
 * slope, within -45 dB at 1 kHz and far better below.
 *
 * Sinusoids that are followed and subtracted: B. Widrow et al., Proc. IEEE 63, 1975; the filters: R. Kalman, 1960; from
 * memory. */
#ifndef LINCTUS_HUM_FOLLOWER_H
#define LINCTUS_HUM_FOLLOWER_H

#include "dsp.h"
#include "hum_turn.h"

enum {
    FOLLOWER_HARMONICS = 20, /* up to 1 kHz */
    FOLLOWER_BLOCKS = 5,     /* values of the spline in a window */
    FOLLOWER_SPAN = 7,       /* blocks that a window reaches over: hum_follower.md */
    FOLLOWER_FAMILIES = 2,   /* 50 Hz, 60 Hz */
};

#define FOLLOWER_HIGHEST 1000.0 /* Hz, of a harmonic of 50 or 60 Hz */

/* One figure a harmonic. */
typedef float FollowerRow[FOLLOWER_HARMONICS];

/* cos and sin parts. */
typedef struct {
    FollowerRow re, im;
} FollowerRows;

typedef struct {
    FollowerRows sum[3], left[2];        /* of the block under way, by 1, u, u squared; what the two before it left */
    FollowerRows heard[FOLLOWER_BLOCKS]; /* of those before it */
    FollowerRows hum;                    /* as it is now */
    FollowerRow usual, stirred;          /* power: by how much what is heard differs, usually in rests; and by how much
                                            in the last block from what the harmonics agreed on; */
    FollowerRow doubt;                   /* variance of `hum` */
    FollowerRows off;                    /* mean difference of what is heard in rests from `hum` */
    bool sure[FOLLOWER_HARMONICS];
    uint32_t odd[FOLLOWER_HARMONICS];     /* blocks in rests that were further off than is to be expected, in a row */
    FollowerRows put, glide;              /* what is put out at the next point; what a point adds */
    float here, ahead, slope, slope_here; /* the hum at the last point and at the next; its slope a point */
    float rising;                         /* what the samples before it are of the last point's mean */
    float in[DSP_CELL], out[DSP_CELL];    /* from the last point to the next: what came, and the hum in it */
} FollowerChannel;

/* How a hum is made up: each harmonic's amplitude and phase, the latter from any beginning. */
typedef struct {
    FollowerRows channel[DSP_CHANNELS];
} FollowerShape;

typedef struct {
    double rate;
    uint32_t channels, stride, family, harmonics, cells; /* samples to a point; cells to a block */
    bool on, begun, sure, puts_out;
    bool known;     /* it follows a hum of this make-up, */
    bool aligned;   /* and has found where it stands: */
    uint32_t tried; /* blocks in rests that did not show it */
    FollowerShape shape;
    float heard_at[FOLLOWER_FAMILIES][FOLLOWER_HARMONICS]; /* what the mean round a point leaves of a harmonic */
    float along[DSP_CELL];                                 /* 0..1, from point to point */

    double phase; /* of the fundamental at the next point */
    HumTurn turn;
    FollowerRows reference, rotate;
    FollowerRow slope;  /* radians a point */
    float risen, rises; /* 0..1 over a block; what a point adds */
    FollowerChannel channel[DSP_CHANNELS];
    uint32_t at, cell, block;   /* sample after the last point; cell of the block; blocks since it began */
    double weakest, learned_at; /* power of the weakest window lately, at first that of the rests; of the rests that the
                                   hum was learned in */
    double power[FOLLOWER_SPAN];    /* what was left of the last blocks */
    uint32_t asked;                 /* blocks left of this rest that may prove the hum */
    uint32_t proofs, apart, rested; /* rests that proved it; blocks since a rest; blocks of the last rest */
    uint32_t lost;                  /* blocks of rests in a row in which the hum stood elsewhere */
    uint32_t begins;                /* block of the first rest; 0: not yet */
    bool quiet;                     /* the window lies in a rest */
    double most;                    /* amplitude of all harmonics together */

    FollowerRow amount, wanted;      /* 0..1, of each harmonic */
    double depth;                    /* 0..1, of all: what the caller takes */
    double energy, left, put_energy; /* of the input, of what is left of it, of the hum: in this block */
    double in_energy, out_energy;    /* in all */
} HumFollower;

/* rate: DSP_RATE_MIN..DSP_RATE_MAX; channels: 1..DSP_CHANNELS. It stands as after follower_reset(). */
void follower_init(HumFollower *f, double rate, uint32_t channels);

/* Follows nothing, puts out nothing, has put out nothing. */
void follower_reset(HumFollower *f);

/* Follows nothing, at once: fade what it puts out before. */
void follower_stop(HumFollower *f);

/* Begins anew with a family (0: 50 Hz, 1: 60 Hz), a hum of `db` in rests of `rest` dB; shape: its make-up, if that is
 * known, else NULL. */
void follower_start(HumFollower *f, uint32_t family, double db, double rest, const FollowerShape *shape);

/* The hum has proved to be of this level. */
void follower_expect(HumFollower *f, double db);

/* No harmonic over so many Hz is put out; it is faded. depth: 0..1, so much of the hum the caller takes away. */
void follower_put_out(HumFollower *f, double depth, double up_to);

/* At grid points, while it is on. */
void follower_tick(HumFollower *f);

/* The next n samples of one cell, while it is on. hum[c][t] is what to subtract, 0 where it
 * puts out nothing. */
void follower_process(HumFollower *f, const float *const *in, float hum[][DSP_CELL], uint32_t n);

/* As it is now. */
void follower_shape(const HumFollower *f, FollowerShape *shape);

double follower_mains(const HumFollower *f); /* 50, 60 Hz */
double follower_hz(const HumFollower *f);    /* where the fundamental is now */

/* RMS in dB of what is put out now, of all channels the loudest. */
double follower_level(const HumFollower *f);

#endif
