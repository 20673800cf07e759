#include "hum_follower_find.h"

#include "hum_follower_harmonics.h"
#include "hum_follower_inside.h"

#include <math.h>

/* All set by trial over the voices for tuning, not searched one by one. Finding where a known hum stands: */
#define ANGLES_TRIED     128   /* angles tried over a whole turn */
#define ALIGNED_WITHIN   0.06  /* rad: error of the angle found */
#define KNOWN_WITHIN     0.001 /* share of its power: error of each harmonic */
#define LOST_SPEED_ERROR 0.5   /* rad/s: how far the speed of a lost hum may have gone */
#define FIT_SHARE        0.4   /* of what is heard may differ from the hum: more is another hum */
#define KNOWN_FIT_SHARE  0.25  /* the same, where a known hum is looked for */
#define LOST_FIT_SHARE   0.2   /* the same, where a lost hum is looked for */
#define BLOCKS_TRIED     75    /* blocks in rests in which it is looked for */
#define NOISY_HARMONIC   2.f   /* times its noise: a harmonic no stronger than that counts half */
#define LOST_SHARE       0.5   /* of what is heard differs in a block: it counts as lost */
#define LOST_BLOCKS      3     /* such blocks in a row: the hum has to be found again */

/* Proving a hum that is not known: */
#define PROOF_BLOCKS 12   /* blocks: between two rests, and of a rest */
#define PROOF_AFTER  5    /* blocks of a rest, the first */
#define PROOF_REACH  0.4  /* rad, and three times the phase's error: how far it may stand off */
#define PROOF_ANGLE  0.05 /* rad, from one angle tried to the next */

/* What is heard beside a hum: harmonic by harmonic the product of the one and the other, turned back; their powers.
 * Those that drown in noise count less. */
typedef struct {
    FollowerRows product;
    double heard, hum;
} Likeness;

static Likeness likeness(const HumFollower *f, const FollowerShape *shape)
{
    Likeness l = {.heard = 1e-30};
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics; ++k) {
            const float re = shape->channel[c].re[k], im = shape->channel[c].im[k];
            const FollowerDifference d = follower_difference(&f->channel[c], f->block, k);
            const float power = re * re + im * im;
            const float w = power / (power + NOISY_HARMONIC * f->channel[c].usual[k] + 1e-20f);
            const float x = w * (float)d.heard_re, y = w * (float)d.heard_im;
            l.product.re[k] += re * x + im * y;
            l.product.im[k] += im * x - re * y;
            l.heard += (double)w * (d.heard_re * d.heard_re + d.heard_im * d.heard_im);
            l.hum += (double)(w * power);
        }
    return l;
}

/* By how much of its power what is heard differs from the hum, moved on by an angle. */
static double misfit(const Likeness *l, double angle)
{
    FollowerRows turned;
    double alike = 0.0;
    follower_harmonics(angle, &turned);
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; ++k)
        alike += (double)(l->product.re[k] * turned.re[k] + l->product.im[k] * turned.im[k]);
    return (l->heard + l->hum - 2.0 * alike) / l->heard;
}

/* Wherever the hum may stand, it differs by more. */
static bool cannot_fit(const Likeness *l, double most_off)
{
    double most = 0.0;
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; ++k)
        most += sqrt((double)(l->product.re[k] * l->product.re[k] + l->product.im[k] * l->product.im[k]));
    return l->heard + l->hum - 2.0 * most > most_off * l->heard;
}

/* Where what is heard shows the hum clearly: true, and by which angle it was moved on. */
static bool placed(const Likeness *l, double most_off, double *angle)
{
    double best = HUGE_VAL;
    if (cannot_fit(l, most_off))
        return false;
    for (uint32_t i = 0; i < ANGLES_TRIED; ++i) {
        const double at = 2.0 * DSP_PI * i / ANGLES_TRIED, off = misfit(l, at);
        *angle = off < best ? at : *angle;
        best = fmin(best, off);
    }
    return best < most_off;
}

static void take_shape(HumFollower *f, const FollowerShape *shape, double angle)
{
    FollowerRows turned;
    follower_harmonics(-angle, &turned);
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics; ++k) {
            FollowerChannel *const ch = &f->channel[c];
            const float re = shape->channel[c].re[k], im = shape->channel[c].im[k];
            ch->hum.re[k] = re * turned.re[k] - im * turned.im[k];
            ch->hum.im[k] = re * turned.im[k] + im * turned.re[k];
            ch->doubt[k] = (float)(KNOWN_WITHIN * follower_power(ch, k) + 1e-5 * f->most * f->most);
        }
}

void follower_align(HumFollower *f)
{
    const Likeness l = likeness(f, &f->shape);
    double angle = 0.0;
    f->aligned = placed(&l, KNOWN_FIT_SHARE, &angle);
    f->tried += f->quiet;
    f->known = f->aligned || f->tried < BLOCKS_TRIED;
    if (!f->aligned)
        return;
    take_shape(f, &f->shape, angle);
    turn_placed(&f->turn, ALIGNED_WITHIN * ALIGNED_WITHIN, 0.0);
}

/* The hum that is followed, moved on by what suits it best, up to `reach` radians. */
static bool fits(const HumFollower *f, double reach)
{
    FollowerShape now;
    double best = HUGE_VAL;
    follower_shape(f, &now);
    const Likeness l = likeness(f, &now);
    for (double angle = -reach; angle <= reach; angle += PROOF_ANGLE)
        best = fmin(best, misfit(&l, angle));
    return best < FIT_SHARE;
}

static void disprove(HumFollower *f)
{
    f->proofs = 0;
    turn_begin(&f->turn, follower_nominal(f->family));
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics; ++k)
            follower_begin_harmonic(&f->channel[c], k, f->most * f->most);
}

/* Is a hum that was heard in one rest there in the next, where it was to be expected? Only what is proved so is put
 * out: the end of a note is steady too, but not from rest to rest. The first blocks of the rest are asked. */
static void prove(HumFollower *f)
{
    const double reach = PROOF_REACH + 3.0 * sqrt(f->turn.phase_doubt);
    const bool proved = fits(f, fmin(reach, DSP_PI / 3.0));
    f->asked = proved ? 0 : f->asked - 1;
    f->proofs += proved;
    if (!proved && f->asked == 0)
        disprove(f);
}

void follower_hear_proof(HumFollower *f)
{
    if (!f->quiet) {
        ++f->apart;
        return;
    }
    const bool next = f->apart >= PROOF_BLOCKS;
    f->asked = !next                                                                  ? f->asked
               : f->rested > PROOF_BLOCKS && !f->known && f->proofs < FOLLOWER_PROOFS ? PROOF_AFTER
                                                                                      : 0;
    f->rested = next ? 1 : f->rested + 1;
    f->apart = 0;
    if (f->asked > 0)
        prove(f);
}

void follower_hear_loss(HumFollower *f)
{
    FollowerShape now;
    double angle = 0.0;
    follower_shape(f, &now);
    const Likeness l = likeness(f, &now);
    f->lost = f->sure && misfit(&l, 0.0) > LOST_SHARE && placed(&l, LOST_FIT_SHARE, &angle) ? f->lost + 1 : 0;
    if (f->lost < LOST_BLOCKS)
        return;
    f->lost = 0;
    take_shape(f, &now, angle);
    turn_placed(&f->turn, ALIGNED_WITHIN * ALIGNED_WITHIN, LOST_SPEED_ERROR * LOST_SPEED_ERROR);
}
