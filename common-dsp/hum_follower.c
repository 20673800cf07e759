#include "hum_follower.h"

#include "four.h"
#include "hum_points.h"
#include "inlined.h"
#include "units.h"

#include <math.h>
#include <string.h>

/* All of these were set by trial over the voices for tuning, with hums of 50 and 60 Hz that stand still or swing by 1 %
 * in 23 s, 20 to 40 dB under the voice. */

/* Each harmonic's own amplitude and phase. */
#define HARMONIC_WANDER 0.003 /* of it, in a second: how they wander */
#define PHASE_DELAY     0.07  /* s, of what is heard of a harmonic */
#define PHASE_DOUBT_MOST                                                                                               \
    0.3                   /* rad: a harmonic whose phase is known no better than that after this delay is left alone, */
#define ALWAYS_FOLLOWED 3 /* but for the first */
#define SETTLED_BLOCKS  50  /* blocks in rests: so long what differs is noise */
#define OUTLIER_RATIO   4.0 /* times what is expected: what is more is noise or voice */
#define AMPLITUDE_MOST  1.4 /* times the amplitude of all harmonics: none is stronger */
#define WINDOW_OVERLAP  4.0 /* so many measurements share their blocks */

/* How far a harmonic usually differs from what is followed. */
#define FIRST_NOISE       1e-3 /* of the power of all, at first */
#define NOISE_FALL        0.05 /* a block */
#define VOICE_TIME        0.01 /* s: how long a voice on it is remembered */
#define VOICE_NOISE_SHARE 0.5  /* of a measurement's difference is its noise: the windows overlap less than in rests */

/* A hum that is known: where it stands. */
#define ANGLES_TRIED     128   /* that are tried */
#define ALIGNED_WITHIN   0.06  /* rad: where it stands is then known within this, */
#define KNOWN_WITHIN     0.001 /* each harmonic within this, of its power */
#define LOST_SPEED_ERROR 0.5   /* rad/s: how far its speed may have gone, where it was lost */
#define FIT_SHARE        0.4   /* of what is heard may differ: else it is another hum; */
#define KNOWN_FIT_SHARE  0.25  /* where it is looked for, */
#define LOST_FIT_SHARE   0.2   /* and where it was lost */
#define BLOCKS_TRIED     75    /* blocks in rests in which it is looked for */
#define NOISY_HARMONIC   2.f   /* times its noise: a harmonic no stronger than that counts half */
#define LOST_SHARE       0.5   /* of what is heard differs, */
#define LOST_BLOCKS      3     /* blocks in a row: it has to be found again */

/* Proofs of a hum that is not known. */
#define PROOF_BLOCKS     12   /* blocks: between two rests, and of a rest */
#define PROOF_AFTER      5    /* blocks of a rest, the first */
#define PROOF_REACH      0.4  /* rad, and three times what is not known of the phase: so far it may stand off */
#define PROOF_ANGLE      0.05 /* rad, from one that is tried to the next */
#define PROOFS_WANTED    2    /* rests */
#define LONG_REST_BLOCKS 75   /* blocks of one rest are as good */

/* Rests. */
#define WEAKEST_RISE      1.0  /* dB a second: how the weakest window is forgotten */
#define REST_OVER_WEAKEST 3.0  /* times its power: a rest */
#define STILLER_TIMES     2.0f /* times less: those before were none */
#define LOST_SHARE        0.5  /* of what came in is left, and of the hum differs, */
#define LOST_BLOCKS       3    /* blocks in a row: it has to be found again */

/* What is put out. */
#define UNKNOWN_OPENING  0.5 /* s: nothing is sure before, */
#define KNOWN_OPENING    0.1 /* s: but a hum that is known */
#define SURE_DOUBT       0.1 /* doubt, of a harmonic's power: from less on it is sure, */
#define UNSURE_DOUBT     0.3 /* from more on no more */
#define SURE_POWER       0.6 /* of all power: so much of it has to be sure, */
#define SURE_POWER_LEAST 0.3 /* and so much to remain so */
#define OUTPUT_FADE      0.1 /* s: how it comes and goes */
#define SILENT_AMOUNT    1e-4f

static const double mains[FOLLOWER_FAMILIES] = {50.0, 60.0};

/* sin^2 in the middle of each block; the sum is 1. */
static const double hann[FOLLOWER_BLOCKS] = {0.038196601, 0.261803399, 0.4, 0.261803399, 0.038196601};

/* ---- Life ---- */

void follower_init(HumFollower *f, double rate, uint32_t channels)
{
    memset(f, 0, sizeof *f);
    f->rate = rate;
    f->channels = channels;
    f->stride = hum_points_stride(rate);
    for (uint32_t i = 0; i < f->stride; ++i)
        f->along[i] = (float)i / (float)f->stride;
    for (uint32_t m = 0; m < FOLLOWER_FAMILIES; ++m)
        for (uint32_t k = 0; k < FOLLOWER_HARMONICS; ++k)
            f->heard_at[m][k] = (float)hum_points_heard_at(rate, f->stride, mains[m] * (k + 1));
}

void follower_reset(HumFollower *f)
{
    follower_stop(f);
    f->in_energy = f->out_energy = 0.0;
}

static void begin_harmonic(FollowerChannel *c, uint32_t k, double prior)
{
    c->usual[k] = (float)(FIRST_NOISE * prior);
    c->doubt[k] = (float)prior;
}

void follower_stop(HumFollower *f)
{
    memset(f->channel, 0, sizeof f->channel);
    memset(f->amount, 0, sizeof f->amount);
    memset(f->power, 0, sizeof f->power);
    f->on = f->begun = f->sure = f->puts_out = f->known = f->aligned = f->quiet = false;
    f->at = f->cell = f->block = f->begins = 0;
    f->phase = 0.0;
    f->weakest = f->learned_at = HUGE_VAL;
    f->lost = f->proofs = f->apart = f->rested = f->asked = f->tried = 0;
    f->energy = f->left = f->put_energy = 0.0;
}

void follower_start(HumFollower *f, uint32_t family, double db, double rest, const FollowerShape *shape)
{
    follower_stop(f);
    f->on = true;
    f->family = family;
    f->harmonics = (uint32_t)(FOLLOWER_HIGHEST / mains[family]);
    f->cells = (uint32_t)(f->rate / (mains[family] * DSP_CELL) + 0.5);
    turn_begin(&f->turn, mains[family]);
    f->weakest = db_to_power(rest);
    f->known = shape;
    f->shape = shape ? *shape : f->shape;
    follower_expect(f, db);
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics; ++k)
            begin_harmonic(&f->channel[c], k, f->most * f->most);
}

void follower_expect(HumFollower *f, double db)
{
    f->most = sqrt(2.0) * db_to_gain(db);
}

void follower_put_out(HumFollower *f, double depth, double up_to)
{
    f->depth = depth;
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; ++k)
        f->wanted[k] = mains[f->family] * (k + 1) <= up_to ? 1.f : 0.f;
}

/* ---- A block has ended ---- */

/* cos and sin of every harmonic of an angle. */
static void harmonics_of(double angle, FollowerRows *to)
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

static double block_seconds(const HumFollower *f)
{
    return f->cells * DSP_CELL / f->rate;
}

typedef struct {
    double heard_re, heard_im;
    double re, im;        /* how far from the hum that is followed, */
    double power;         /* the same */
    double along, across; /* the same, in the direction of the hum and in that in which it turns on */
    double noise;         /* variance of what was heard */
} Difference;

typedef struct {
    double moved, worth; /* sum of phases by their worth, 1/rad^2; sum of worths */
} Moved;

/* The sums of a block, by how much of it lies behind: 1, u and u squared, u of 0..1. `first` and `second`: what its
 * predecessors left; both move on. */
static double spline(float *first, float *second, double all, double u, double uu)
{
    const double heard = (double)*first + 0.5 * (all - 2.0 * u + uu);
    *first = (float)((double)*second + 0.5 * (all + 2.0 * u - 2.0 * uu));
    *second = (float)(0.5 * uu);
    return heard;
}

/* What the blocks say of each harmonic, each sample weighed by a quadratic B-spline over three of them; turned back by
 * the time that the reference ran ahead of the sound. */
static void hear_block(HumFollower *f, FollowerChannel *c)
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

/* Of the last blocks under a Hann window, how far harmonic k is from the hum that is followed. */
static Difference difference(const FollowerChannel *c, uint32_t newest, uint32_t k)
{
    double re = 0.0, im = 0.0;
    for (uint32_t i = 0; i < FOLLOWER_BLOCKS; ++i) {
        const FollowerRows *heard = &c->heard[(newest + 1 + i) % FOLLOWER_BLOCKS];
        re += hann[i] * (double)heard->re[k];
        im += hann[i] * (double)heard->im[k];
    }
    Difference d = {.heard_re = re, .heard_im = im, .re = re - (double)c->hum.re[k], .im = im - (double)c->hum.im[k]};
    d.power = d.re * d.re + d.im * d.im;
    return d;
}

static double power_of(const FollowerChannel *c, uint32_t k)
{
    return (double)c->hum.re[k] * (double)c->hum.re[k] + (double)c->hum.im[k] * (double)c->hum.im[k];
}

static double amplitude(const FollowerChannel *c, uint32_t k)
{
    return sqrt(power_of(c, k));
}

static void split(const FollowerChannel *c, uint32_t k, Difference *d)
{
    const double re = (double)c->hum.re[k], im = (double)c->hum.im[k], by = 1.0 / fmax(amplitude(c, k), 1e-15);
    d->along = by * (d->re * re + d->im * im);
    d->across = by * (d->re * im - d->im * re);
}

/* In rests alone. */
static void follow_usual(const HumFollower *f, FollowerChannel *c, uint32_t k, const Difference *d)
{
    const double prior = f->most * f->most, usual = (double)c->usual[k];
    const double power = fmin(d->power, OUTLIER_RATIO * ((double)c->doubt[k] + usual));
    c->usual[k] = (float)fmax(usual + NOISE_FALL * (power - usual), 1e-7 * prior);
}

/* What the measurement of a harmonic is worth: the variance of its noise. Under a voice, what lies in the direction of
 * the hum is noise, and so is what stands apart from what the harmonics agree on; there it is at least what it was
 * lately. In a rest a difference tells that the harmonic was not known. agreed: rad, of the fundamental. */
static void weigh(const HumFollower *f, FollowerChannel *c, uint32_t k, double agreed, Difference *d)
{
    const double n = k + 1.0, usual = (double)c->usual[k], doubt = (double)c->doubt[k];
    const double keep = one_pole(VOICE_TIME, 1.0 / block_seconds(f));
    const double expected = usual + doubt + n * n * power_of(c, k) * f->turn.phase_doubt;
    const double apart = d->across - n * amplitude(c, k) * agreed;
    const double noisy = fmax(2.0 * d->along * d->along, apart * apart) * VOICE_NOISE_SHARE;
    c->stirred[k] = (float)(noisy + keep * ((double)c->stirred[k] - noisy));
    const double under_voice = fmax(noisy, (double)c->stirred[k]);
    const bool odd = d->power > OUTLIER_RATIO * expected;
    d->noise = WINDOW_OVERLAP * (usual + (f->quiet ? (odd ? d->power : 0.0) : under_voice));
    c->odd[k] = f->quiet ? (odd ? c->odd[k] + 1 : 0) : c->odd[k];
    if (c->odd[k] < SETTLED_BLOCKS)
        return;
    c->odd[k] = 0;
    c->doubt[k] = (float)fmin(d->power, f->most * f->most);
}

/* A harmonic turns too far while the fundamental is not known well. */
static bool in_reach(const HumFollower *f, uint32_t k)
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
static double most_agree(const HumFollower *f, Difference d[][FOLLOWER_HARMONICS])
{
    Vote vote[DSP_CHANNELS * FOLLOWER_HARMONICS];
    uint32_t votes = 0;
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics && in_reach(f, k); ++k) {
            const double turns = (k + 1) * amplitude(&f->channel[c], k);
            if (turns > 0.0)
                vote[votes++] = (Vote){d[c][k].across / turns, turns};
        }
    return middle(vote, votes);
}

/* What the harmonics say together of the fundamental's phase, and how much that is worth. */
static void hear_move(Moved *m, const FollowerChannel *c, uint32_t k, const Difference *d)
{
    const double n = k + 1.0, weight = 2.0 / (d->noise + (double)c->doubt[k]);
    m->moved += weight * n * d->across * amplitude(c, k);
    m->worth += weight * n * n * power_of(c, k);
}

/* The harmonic turns with the fundamental, then goes its own way. */
static void move_harmonic(const HumFollower *f, FollowerChannel *c, uint32_t k, const Difference *d, double moved)
{
    const double a = cos((k + 1) * moved), b = -sin((k + 1) * moved), doubt = (double)c->doubt[k];
    const double re = (double)c->hum.re[k], im = (double)c->hum.im[k];
    const double gain = f->quiet && in_reach(f, k) ? doubt / (doubt + d->noise) : 0.0;
    double x = re * a - im * b, y = re * b + im * a;
    x += gain * (d->heard_re - x);
    y += gain * (d->heard_im - y);
    const double shrink = fmin(1.0, AMPLITUDE_MOST * f->most / fmax(sqrt(x * x + y * y), 1e-30));
    c->hum.re[k] = (float)(shrink * x);
    c->hum.im[k] = (float)(shrink * y);
    c->doubt[k] = (float)((1.0 - gain) * doubt + block_seconds(f) * HARMONIC_WANDER * HARMONIC_WANDER * power_of(c, k));
}

/* A harmonic is sure where what it usually differs by is little beside it. */
static void judge(HumFollower *f)
{
    double sure = 0.0, all = 0.0;
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics; ++k) {
            FollowerChannel *const ch = &f->channel[c];
            const double own = power_of(ch, k), off = (double)ch->doubt[k];
            ch->sure[k] = off < (ch->sure[k] ? UNSURE_DOUBT : SURE_DOUBT) * own;
            sure += ch->sure[k] ? own : 0.0;
            all += own;
        }
    const bool possible = all < 2.0 * AMPLITUDE_MOST * AMPLITUDE_MOST * f->most * f->most * f->channels;
    const bool proved = f->known || f->proofs >= PROOFS_WANTED || f->rested >= LONG_REST_BLOCKS;
    f->sure = possible && (proved || f->sure) &&
              (f->block - f->begins) * block_seconds(f) > (f->known ? KNOWN_OPENING : UNKNOWN_OPENING) &&
              sure > (f->sure ? SURE_POWER_LEAST : SURE_POWER) * all;
}

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
            const Difference d = difference(&f->channel[c], f->block, k);
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
    harmonics_of(angle, &turned);
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
    harmonics_of(-angle, &turned);
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics; ++k) {
            FollowerChannel *const ch = &f->channel[c];
            const float re = shape->channel[c].re[k], im = shape->channel[c].im[k];
            ch->hum.re[k] = re * turned.re[k] - im * turned.im[k];
            ch->hum.im[k] = re * turned.im[k] + im * turned.re[k];
            ch->doubt[k] = (float)(KNOWN_WITHIN * power_of(ch, k) + 1e-5 * f->most * f->most);
        }
}

/* A hum that is known is looked for until something shows it clearly; if no rest does, it is another one now. */
static void align(HumFollower *f)
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
    turn_begin(&f->turn, mains[f->family]);
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics; ++k)
            begin_harmonic(&f->channel[c], k, f->most * f->most);
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

/* Rests in a row, and the sound between them. */
static void hear_proof(HumFollower *f)
{
    if (!f->quiet) {
        ++f->apart;
        return;
    }
    const bool next = f->apart >= PROOF_BLOCKS;
    f->asked = !next ? f->asked : f->rested > PROOF_BLOCKS && !f->known && f->proofs < PROOFS_WANTED ? PROOF_AFTER : 0;
    f->rested = next ? 1 : f->rested + 1;
    f->apart = 0;
    if (f->asked > 0)
        prove(f);
}

/* What is heard shows a hum that is made up as the one that is followed, but stands elsewhere, block after block: there
 * it is followed from here on. */
static void hear_loss(HumFollower *f)
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

static void learn_block(HumFollower *f)
{
    if (f->known && !f->aligned) {
        align(f);
        if (!f->aligned)
            return;
    }
    hear_proof(f);
    hear_loss(f);
    const uint32_t channels = f->channels, harmonics = f->harmonics;
    Difference d[DSP_CHANNELS][FOLLOWER_HARMONICS] = {{{.power = 0.0}}};
    Moved m = {0.0, 0.0};
    for (uint32_t c = 0; c < channels; ++c)
        for (uint32_t k = 0; k < harmonics; ++k) {
            d[c][k] = difference(&f->channel[c], f->block, k);
            split(&f->channel[c], k, &d[c][k]);
        }
    const double agreed = most_agree(f, d);
    for (uint32_t c = 0; c < channels; ++c)
        for (uint32_t k = 0; k < harmonics; ++k) {
            weigh(f, &f->channel[c], k, agreed, &d[c][k]);
            if (in_reach(f, k))
                hear_move(&m, &f->channel[c], k, &d[c][k]);
        }
    const double ahead = m.worth > 0.0 ? m.moved / m.worth : 0.0;
    const double moved = turn_step(&f->turn, block_seconds(f), ahead, m.worth, f->quiet);
    for (uint32_t c = 0; c < channels; ++c)
        for (uint32_t k = 0; k < harmonics; ++k)
            move_harmonic(f, &f->channel[c], k, &d[c][k], moved);
    for (uint32_t c = 0; f->quiet && c < channels; ++c)
        for (uint32_t k = 0; k < harmonics; ++k)
            follow_usual(f, &f->channel[c], k, &d[c][k]);
    judge(f);
}

/* ---- A block begins ---- */

static bool sure_of(const HumFollower *f, uint32_t k)
{
    return f->channel[0].sure[k] || (f->channels > 1 && f->channel[1].sure[k]);
}

static void fade_amounts(HumFollower *f)
{
    const float keep = (float)one_pole(OUTPUT_FADE, f->rate / (f->cells * DSP_CELL));
    f->puts_out = false;
    for (uint32_t k = 0; k < f->harmonics; ++k) {
        const float wanted = f->sure && sure_of(f, k) ? f->wanted[k] : 0.f,
                    to = wanted + keep * (f->amount[k] - wanted);
        f->amount[k] = wanted == 0.f && to < SILENT_AMOUNT ? 0.f : to;
        f->puts_out |= f->amount[k] > 0.f;
    }
}

/* From what is put out now in a straight line to what is wanted at the block's end. */
static void aim(HumFollower *f, FollowerChannel *c)
{
    const uint32_t whole = f->cells * DSP_CELL / f->stride;
    const float points = (float)whole;
    for (uint32_t k = 0; k < f->harmonics; ++k) {
        c->glide.re[k] = (f->amount[k] * c->hum.re[k] - c->put.re[k]) / points;
        c->glide.im[k] = (f->amount[k] * c->hum.im[k] - c->put.im[k]) / points;
        f->put_energy += 0.5 * (double)(c->put.re[k] * c->put.re[k] + c->put.im[k] * c->put.im[k]);
    }
}

/* It is faded out, and comes back from nothing. */
static void clear_out(HumFollower *f)
{
    for (uint32_t c = 0; c < f->channels; ++c) {
        FollowerChannel *const ch = &f->channel[c];
        memset(ch->out, 0, sizeof ch->out);
        memset(&ch->put, 0, sizeof ch->put);
        ch->here = ch->ahead = ch->slope = ch->slope_here = 0.f;
    }
}

static void begin_block(HumFollower *f)
{
    harmonics_of(f->phase, &f->reference);
    harmonics_of(f->turn.speed / f->rate * f->stride, &f->rotate);
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; ++k)
        f->slope[k] = (float)(f->turn.speed / f->rate * f->stride * (k + 1));
    f->rises = (float)f->stride / (float)(f->cells * DSP_CELL);
    f->risen = 0.5f * f->rises;
    fade_amounts(f);
    if (!f->puts_out)
        clear_out(f);
    f->in_energy += f->energy;
    f->out_energy += f->depth * f->depth * f->put_energy * f->cells * DSP_CELL;
    f->energy = f->left = f->put_energy = 0.0;
    for (uint32_t c = 0; c < f->channels; ++c)
        aim(f, &f->channel[c]);
}

/* The rests prove quieter than what was taken for rests so far: what was learned in those counts little. */
static void learn_anew(HumFollower *f)
{
    f->learned_at = f->weakest;
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics; ++k) {
            FollowerChannel *const ch = &f->channel[c];
            ch->doubt[k] = (float)fmax((double)ch->doubt[k], (double)ch->usual[k]);
            ch->usual[k] /= STILLER_TIMES;
        }
}

static double window_mean(double *ring, uint32_t block, double newest)
{
    double sum = 0.0;
    ring[block % FOLLOWER_SPAN] = newest;
    for (uint32_t i = 0; i < FOLLOWER_SPAN; ++i)
        sum += ring[i] / FOLLOWER_SPAN;
    return sum;
}

/* The weakest lately. */
static double weakest(const HumFollower *f, double before, double power)
{
    return fmax(fmin(power, before * db_to_power(WEAKEST_RISE * block_seconds(f))), 1e-16);
}

/* Is it a rest? A window that leaves as little as the weakest lately. */
static void hear_rest(HumFollower *f)
{
    const double samples = f->cells * DSP_CELL * f->channels;
    const double left = window_mean(f->power, f->block, f->left / samples);
    if (f->block + 1 < FOLLOWER_SPAN)
        return;
    f->weakest = weakest(f, f->weakest, left);
    f->quiet = left <= REST_OVER_WEAKEST * f->weakest;
    if (f->quiet && f->weakest * STILLER_TIMES < f->learned_at)
        learn_anew(f);
    f->begins = f->begins ? f->begins : f->quiet ? f->block : 0;
}

static void end_block(HumFollower *f)
{
    hear_rest(f);
    for (uint32_t c = 0; c < f->channels; ++c)
        hear_block(f, &f->channel[c]);
    f->phase = fmod(f->phase + f->turn.speed * block_seconds(f), 2.0 * DSP_PI);
    if (f->begins)
        learn_block(f);
    ++f->block;
}

void follower_tick(HumFollower *f)
{
    if (f->begun && ++f->cell < f->cells)
        return;
    if (f->begun)
        end_block(f);
    f->begun = true;
    f->cell = 0;
    begin_block(f);
}

/* ---- Points ---- */

static float sum_of(Four x)
{
    float lane[FOUR];
    four_store(lane, x);
    return (lane[0] + lane[2]) + (lane[1] + lane[3]);
}

static inline void add(float *to, Four x)
{
    four_store(to, four_add(four_load(to), x));
}

/* Of the samples since the last point: their sum, the sum of each times its place, their energy, and what is left of
 * that without the hum. */
typedef struct {
    float sum, placed, energy, left;
} Stretch;

static Stretch stretch_plain(const HumFollower *f, const FollowerChannel *c)
{
    Stretch s = {0.f, 0.f, 0.f, 0.f};
    for (uint32_t i = 0; i < f->stride; ++i) {
        const float x = c->in[i], rest = x - c->out[i];
        s.sum += x;
        s.placed += x * (float)i;
        s.energy += x * x;
        s.left += rest * rest;
    }
    return s;
}

static Stretch stretch_of(const HumFollower *f, const FollowerChannel *c)
{
    static const float first[FOUR] = {0.f, 1.f, 2.f, 3.f};
    Four sum = four_all(0.f), placed = sum, energy = sum, left = sum, place = four_load(first);
    if (f->stride < FOUR)
        return stretch_plain(f, c);
    for (uint32_t i = 0; i < f->stride; i += FOUR) {
        const Four x = four_load(c->in + i), rest = four_sub(x, four_load(c->out + i));
        sum = four_add(sum, x);
        placed = four_add(placed, four_mul(x, place));
        energy = four_add(energy, four_mul(x, x));
        left = four_add(left, four_mul(rest, rest));
        place = four_add(place, four_all((float)FOUR));
    }
    return (Stretch){sum_of(sum), sum_of(placed), sum_of(energy), sum_of(left)};
}

/* The mean round the point before the last, correlated with the reference. */
static void correlate(HumFollower *f, FollowerChannel *c)
{
    const Stretch s = stretch_of(f, c);
    const float scale = 1.f / (float)f->stride, near = (s.placed + 0.5f * s.sum) * scale;
    const float x = (c->rising + (s.sum - near)) * scale;
    const Four mean = four_all(x), rising = four_all(x * f->risen), risen = four_all(x * f->risen * f->risen);
    c->rising = near;
    f->energy += (double)s.energy;
    f->left += (double)s.left;
    UNROLLED
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; k += FOUR) {
        const Four re = four_load(f->reference.re + k), im = four_load(f->reference.im + k);
        add(c->sum[0].re + k, four_mul(mean, re));
        add(c->sum[0].im + k, four_mul(mean, im));
        add(c->sum[1].re + k, four_mul(rising, re));
        add(c->sum[1].im + k, four_mul(rising, im));
        add(c->sum[2].re + k, four_mul(risen, re));
        add(c->sum[2].im + k, four_mul(risen, im));
    }
}

static void turn_reference(HumFollower *f)
{
    UNROLLED
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; k += FOUR) {
        const Four re = four_load(f->reference.re + k), im = four_load(f->reference.im + k);
        const Four a = four_load(f->rotate.re + k), b = four_load(f->rotate.im + k);
        four_store(f->reference.re + k, four_sub(four_mul(re, a), four_mul(im, b)));
        four_store(f->reference.im + k, four_add(four_mul(re, b), four_mul(im, a)));
    }
}

/* The hum and its slope at the next point. */
static void look_ahead(const HumFollower *f, FollowerChannel *c)
{
    Four value = four_all(0.f), slope = four_all(0.f);
    UNROLLED
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; k += FOUR) {
        const Four re = four_load(f->reference.re + k), im = four_load(f->reference.im + k);
        const Four a = four_add(four_load(c->put.re + k), four_load(c->glide.re + k));
        const Four b = four_add(four_load(c->put.im + k), four_load(c->glide.im + k));
        four_store(c->put.re + k, a);
        four_store(c->put.im + k, b);
        value = four_add(value, four_add(four_mul(a, re), four_mul(b, im)));
        const Four turned = four_sub(four_mul(b, re), four_mul(a, im));
        slope = four_add(slope, four_mul(turned, four_load(f->slope + k)));
    }
    c->here = c->ahead;
    c->slope_here = c->slope;
    c->ahead = sum_of(value);
    c->slope = sum_of(slope);
}

/* Up to the next point, the cubic that has the value and the slope of the hum at both (Hermite). */
static void interpolate(const HumFollower *f, FollowerChannel *c)
{
    const float step = c->ahead - c->here;
    const float third = c->slope_here + c->slope - 2.f * step, second = step - c->slope_here - third;
    if (f->stride < FOUR) {
        for (uint32_t i = 0; i < f->stride; ++i)
            c->out[i] = c->here + f->along[i] * (c->slope_here + f->along[i] * (second + f->along[i] * third));
        return;
    }
    for (uint32_t i = 0; i < f->stride; i += FOUR) {
        const Four u = four_load(f->along + i);
        Four y = four_add(four_all(second), four_mul(u, four_all(third)));
        y = four_add(four_all(c->slope_here), four_mul(u, y));
        four_store(c->out + i, four_add(four_all(c->here), four_mul(u, y)));
    }
}

static void step_point(HumFollower *f)
{
    for (uint32_t c = 0; c < f->channels; ++c)
        correlate(f, &f->channel[c]);
    f->risen += f->rises;
    turn_reference(f);
    for (uint32_t c = 0; f->puts_out && c < f->channels; ++c) {
        look_ahead(f, &f->channel[c]);
        interpolate(f, &f->channel[c]);
    }
}

void follower_process(HumFollower *f, const float *const *in, float hum[][DSP_CELL], uint32_t n)
{
    for (uint32_t from = 0, m; from < n; from += m) {
        if (f->at == 0)
            step_point(f);
        m = f->stride - f->at < n - from ? f->stride - f->at : n - from;
        for (uint32_t c = 0; c < f->channels; ++c) {
            memcpy(f->channel[c].in + f->at, in[c] + from, m * sizeof(float));
            memcpy(hum[c] + from, f->channel[c].out + f->at, m * sizeof(float));
        }
        f->at = (f->at + m) % f->stride;
    }
}

/* ---- What it does ---- */

void follower_shape(const HumFollower *f, FollowerShape *shape)
{
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        shape->channel[c] = f->channel[c].hum;
}

double follower_mains(const HumFollower *f)
{
    return mains[f->family];
}

double follower_hz(const HumFollower *f)
{
    return f->turn.speed / (2.0 * DSP_PI);
}

double follower_level(const HumFollower *f)
{
    double most = 0.0;
    for (uint32_t c = 0; f->puts_out && c < f->channels; ++c) {
        double power = 0.0;
        for (uint32_t k = 0; k < f->harmonics; ++k)
            power += 0.5 * (double)f->amount[k] * (double)f->amount[k] * power_of(&f->channel[c], k);
        most = fmax(most, power);
    }
    return power_to_db(most);
}
