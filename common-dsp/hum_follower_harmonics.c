#include "hum_follower_harmonics.h"

#include "hum_follower_inside.h"

#include <math.h>
#include <string.h>

/* Set by trial over the voices for tuning, as all of hum_follower.c. Half and twice of STIRRED_SHARE
 * move medians by 0.5 dB at most; the rest was not searched one by one. */
#define HARMONIC_WANDER 0.003 /* of it, in a second: how they wander */
#define PHASE_DELAY     0.07  /* s, of what is heard of a harmonic */
#define PHASE_DOUBT_MOST                                                                                               \
    0.3                   /* rad: a harmonic whose phase is known no better than that after this delay is left alone, */
#define ALWAYS_FOLLOWED 3 /* but for the first */
#define SETTLED_BLOCKS  50  /* blocks in rests: so long what differs is noise */
#define OUTLIER_RATIO   4.0 /* times what is expected: what is more is noise or voice */
#define WINDOW_OVERLAP  4.0 /* so many measurements share their blocks */

/* How far a harmonic usually differs from what is followed. */
#define FIRST_NOISE   1e-3  /* share of the power of all harmonics, at first */
#define NOISE_FALL    0.05  /* a block */
#define OFF_FALL      0.02f /* the same, for the mean difference */
#define STIRRED_SHARE 0.3   /* share of what deviated in the block before: the noise is at least this */
#define NOW_NOISE     2.0   /* times: noise of three blocks alone, relative to a whole window */
#define NOW_OVERLAP   2.0   /* how many of these windows share their blocks */

/* sin^2 in the middle of each block; the sum is 1. */
static const double hann[FOLLOWER_BLOCKS] = {0.038196601, 0.261803399, 0.4, 0.261803399, 0.038196601};

void follower_begin_harmonic(FollowerChannel *c, uint32_t k, double prior)
{
    c->usual[k] = (float)(FIRST_NOISE * prior);
    c->doubt[k] = (float)prior;
}

void follower_harmonics(double angle, FollowerRows *to)
{
    const double re = cos(angle), im = sin(angle);
    double a = re, b = im;
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; ++k) {
        to->re[k] = (float)a;
        to->im[k] = (float)b;
        const double next = a * re - b * im;
        b = a * im + b * re;
        a = next;
    }
}

/* The sums of a block, by how much of it lies behind: 1, u and u squared, u of 0..1. `first` and `second`: what its
 * predecessors left; both move on. */
static double spline(float *first, float *second, double all, double u, double uu)
{
    const double heard = (double)*first + 0.5 * (all - 2.0 * u + uu);
    *first = (float)((double)*second + 0.5 * (all + 2.0 * u - 2.0 * uu));
    *second = (float)(0.5 * uu);
    return heard;
}

void follower_hear_block(HumFollower *f, FollowerChannel *c)
{
    FollowerRows *to = &c->heard[f->block % FOLLOWER_BLOCKS];
    const double back = f->turn.speed / f->rate * (f->stride + 0.5);
    const double re = cos(back), im = -sin(back), points = (double)f->cells * DSP_CELL / f->stride;
    double a = re, b = im;
    for (uint32_t k = 0; k < f->harmonics; ++k) {
        const double scale = 2.0 / (points * (double)f->heard_at[f->family][k]);
        const double x = scale * spline(&c->left[0].re[k], &c->left[1].re[k], (double)c->sum[0].re[k],
                                        (double)c->sum[1].re[k], (double)c->sum[2].re[k]);
        const double y = scale * spline(&c->left[0].im[k], &c->left[1].im[k], (double)c->sum[0].im[k],
                                        (double)c->sum[1].im[k], (double)c->sum[2].im[k]);
        to->re[k] = (float)(x * a - y * b);
        to->im[k] = (float)(x * b + y * a);
        const double next = a * re - b * im;
        b = a * im + b * re;
        a = next;
    }
    memset(c->sum, 0, sizeof c->sum);
}

static FollowerDifference difference(const FollowerChannel *c, uint32_t k, double re, double im)
{
    FollowerDifference d = {
        .heard_re = re, .heard_im = im, .re = re - (double)c->hum.re[k], .im = im - (double)c->hum.im[k]};
    d.power = d.re * d.re + d.im * d.im;
    return d;
}

FollowerDifference follower_difference(const FollowerChannel *c, uint32_t newest, uint32_t k)
{
    double re = 0.0, im = 0.0;
    for (uint32_t i = 0; i < FOLLOWER_BLOCKS; ++i) {
        const FollowerRows *heard = &c->heard[(newest + 1 + i) % FOLLOWER_BLOCKS];
        re += hann[i] * (double)heard->re[k];
        im += hann[i] * (double)heard->im[k];
    }
    return difference(c, k, re, im);
}

FollowerDifference follower_difference_now(const FollowerChannel *c, uint32_t newest, uint32_t k)
{
    const FollowerRows *heard = &c->heard[newest % FOLLOWER_BLOCKS];
    return difference(c, k, (double)heard->re[k], (double)heard->im[k]);
}

/* How far it has turned on, times the harmonic's power. */
static double turned_on(const FollowerChannel *c, uint32_t k, const FollowerDifference *d)
{
    return d->re * (double)c->hum.im[k] - d->im * (double)c->hum.re[k];
}

void follower_follow_usual(const HumFollower *f, FollowerChannel *c, uint32_t k, const FollowerDifference *d)
{
    const double prior = f->most * f->most, usual = (double)c->usual[k];
    const double power = fmin(d->power, OUTLIER_RATIO * ((double)c->doubt[k] + usual));
    c->usual[k] = (float)fmax(usual + NOISE_FALL * (power - usual), 1e-7 * prior);
    c->off.re[k] += OFF_FALL * ((float)d->re - c->off.re[k]);
    c->off.im[k] += OFF_FALL * ((float)d->im - c->off.im[k]);
}

void follower_weigh(const HumFollower *f, FollowerChannel *c, uint32_t k, FollowerDifference *d)
{
    const double n = k + 1.0, usual = (double)c->usual[k], doubt = (double)c->doubt[k];
    const double expected = usual + doubt + n * n * follower_power(c, k) * f->turn.phase_doubt;
    const bool odd = d->power > OUTLIER_RATIO * expected;
    d->noise = WINDOW_OVERLAP * (usual + (odd ? d->power : 0.0));
    c->odd[k] = f->quiet ? (odd ? c->odd[k] + 1 : 0) : c->odd[k];
    if (c->odd[k] < SETTLED_BLOCKS)
        return;
    c->odd[k] = 0;
    c->doubt[k] = (float)fmin(d->power, f->most * f->most);
}

void follower_weigh_now(const FollowerChannel *c, uint32_t k, const FollowerRows *agreed, FollowerDifference *now)
{
    const double a = (double)agreed->re[k], b = -(double)agreed->im[k];
    const double re = now->heard_re - ((double)c->hum.re[k] * a - (double)c->hum.im[k] * b);
    const double im = now->heard_im - ((double)c->hum.re[k] * b + (double)c->hum.im[k] * a);
    now->apart = re * re + im * im;
    now->noise =
        NOW_OVERLAP * (NOW_NOISE * (double)c->usual[k] + fmax(now->apart, STIRRED_SHARE * (double)c->stirred[k]));
}

bool follower_in_reach(const HumFollower *f, uint32_t k)
{
    return k < ALWAYS_FOLLOWED || (k + 1) * sqrt(f->turn.speed_doubt) * PHASE_DELAY < PHASE_DOUBT_MOST;
}

/* What one harmonic says of the fundamental's phase, and how far it turns with it. */
typedef struct {
    double ahead, weight;
} Vote;

/* The median: half of the weight lies below. */
static double middle(const Vote *vote, uint32_t votes)
{
    double all = 0.0;
    for (uint32_t i = 0; i < votes; ++i)
        all += vote[i].weight;
    for (uint32_t i = 0; i < votes; ++i) {
        double below = 0.0;
        for (uint32_t j = 0; j < votes; ++j)
            below += vote[j].ahead < vote[i].ahead ? vote[j].weight : 0.0;
        if (below <= 0.5 * all && below + vote[i].weight >= 0.5 * all)
            return vote[i].ahead;
    }
    return 0.0;
}

/* A voice lies on a few harmonics; what most say is not its doing. */
double follower_most_agree(const HumFollower *f, FollowerDifference now[][FOLLOWER_HARMONICS])
{
    Vote vote[DSP_CHANNELS * FOLLOWER_HARMONICS];
    uint32_t votes = 0;
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics && follower_in_reach(f, k); ++k) {
            const double n = k + 1.0, power = follower_power(&f->channel[c], k);
            if (power > 0.0)
                vote[votes++] = (Vote){turned_on(&f->channel[c], k, &now[c][k]) / (n * power), n * sqrt(power)};
        }
    return middle(vote, votes);
}

void follower_hear_move(FollowerMove *m, const FollowerChannel *c, uint32_t k, const FollowerDifference *now)
{
    const double n = k + 1.0, weight = 2.0 / (now->noise + (double)c->doubt[k]);
    m->moved += weight * n * turned_on(c, k, now);
    m->worth += weight * n * n * follower_power(c, k);
}

void follower_move_harmonic(const HumFollower *f, FollowerChannel *c, uint32_t k, const FollowerDifference *d,
                            double moved)
{
    const double a = cos((k + 1) * moved), b = -sin((k + 1) * moved), doubt = (double)c->doubt[k];
    const double re = (double)c->hum.re[k], im = (double)c->hum.im[k];
    const double gain = f->quiet && follower_in_reach(f, k) ? doubt / (doubt + d->noise) : 0.0;
    double x = re * a - im * b, y = re * b + im * a;
    x += gain * (d->heard_re - x);
    y += gain * (d->heard_im - y);
    const double shrink = fmin(1.0, FOLLOWER_AMPLITUDE_MOST * f->most / fmax(sqrt(x * x + y * y), 1e-30));
    c->hum.re[k] = (float)(shrink * x);
    c->hum.im[k] = (float)(shrink * y);
    c->doubt[k] = (float)((1.0 - gain) * doubt +
                          follower_block_seconds(f) * HARMONIC_WANDER * HARMONIC_WANDER * follower_power(c, k));
}
