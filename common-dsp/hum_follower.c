#include "hum_follower.h"

#include "hum_follower_find.h"
#include "hum_follower_harmonics.h"
#include "hum_follower_inside.h"
#include "hum_follower_out.h"
#include "hum_follower_points.h"
#include "hum_follower_rests.h"
#include "hum_points.h"
#include "units.h"

#include <math.h>
#include <string.h>

/* All of these, and those of its parts, were set by trial over the voices for tuning, with hums of 50 and 60 Hz that
 * stand still or swing by 1 % in 23 s, 20 to 40 dB under the voice. Flat there (test_hum_voices): half and twice of
 * SURE_DOUBT and UNSURE_DOUBT, 0.4 and 0.8 for SURE_POWER, twice OTHER_SHARE, half of AGREED_REACH move no figure by
 * more than 0.1 dB. Half of OTHER_SHARE takes 8 dB from the worst take. */
#define LONG_REST_BLOCKS 75   /* one rest of this many blocks proves the hum as well as two do */
#define UNKNOWN_OPENING  0.5  /* s: before that nothing is sure */
#define KNOWN_OPENING    0.1  /* s: the same for a hum that is known from before */
#define SURE_DOUBT       0.1  /* share of a harmonic's power: with less doubt it becomes sure */
#define UNSURE_DOUBT     0.3  /* the same: with more doubt it is no longer sure */
#define SURE_POWER       0.6  /* share of all power that must be sure for the hum to become sure */
#define SURE_POWER_LEAST 0.3  /* the same, for the hum to remain sure */
#define OTHER_SHARE      .05  /* share of its power: if what is heard is off by more on the mean, it is another hum */
#define AGREED_REACH     2.0  /* standard deviations of the phase: at first the hum is taken to be ahead */
#define AGREED_LEAST     0.01 /* rad: by no more than that and this together */

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
            f->heard_at[m][k] = (float)hum_points_heard_at(rate, f->stride, follower_nominal(m) * (k + 1));
}

void follower_reset(HumFollower *f)
{
    follower_stop(f);
    f->in_energy = f->out_energy = 0.0;
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
    f->harmonics = (uint32_t)(FOLLOWER_HIGHEST / follower_nominal(family));
    f->cells = (uint32_t)(f->rate / (follower_nominal(family) * DSP_CELL) + 0.5);
    turn_begin(&f->turn, follower_nominal(family));
    f->weakest = db_to_power(rest);
    f->known = shape;
    f->shape = shape ? *shape : f->shape;
    follower_expect(f, db);
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics; ++k)
            follower_begin_harmonic(&f->channel[c], k, f->most * f->most);
}

void follower_expect(HumFollower *f, double db)
{
    f->most = sqrt(2.0) * db_to_gain(db);
}

void follower_put_out(HumFollower *f, double depth, double up_to)
{
    f->depth = depth;
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; ++k)
        f->wanted[k] = follower_nominal(f->family) * (k + 1) <= up_to ? 1.f : 0.f;
}

/* ---- A block has ended ---- */

/* A harmonic is sure where what it usually differs by is little beside it. */
static void judge(HumFollower *f)
{
    double sure = 0.0, all = 0.0;
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics; ++k) {
            FollowerChannel *const ch = &f->channel[c];
            const double own = follower_power(ch, k), off = (double)ch->doubt[k];
            ch->sure[k] = off < (ch->sure[k] ? UNSURE_DOUBT : SURE_DOUBT) * own;
            sure += ch->sure[k] ? own : 0.0;
            all += own;
        }
    const bool possible =
        all < 2.0 * FOLLOWER_AMPLITUDE_MOST * FOLLOWER_AMPLITUDE_MOST * f->most * f->most * f->channels;
    const bool proved = f->known || f->proofs >= FOLLOWER_PROOFS || f->rested >= LONG_REST_BLOCKS;
    f->sure = possible && (proved || f->sure) &&
              (f->block - f->begins) * follower_block_seconds(f) > (f->known ? KNOWN_OPENING : UNKNOWN_OPENING) &&
              sure > (f->sure ? SURE_POWER_LEAST : SURE_POWER) * all;
}

typedef FollowerDifference Differences[DSP_CHANNELS][FOLLOWER_HARMONICS];

/* What all harmonics say of the fundamental, if it is ahead by `agreed` radians. */
static FollowerMove move_if(const HumFollower *f, double agreed, Differences now)
{
    FollowerMove m = {0.0, 0.0};
    FollowerRows turned;
    follower_harmonics(agreed, &turned);
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics; ++k) {
            follower_weigh_now(&f->channel[c], k, &turned, &now[c][k]);
            if (follower_in_reach(f, k))
                follower_hear_move(&m, &f->channel[c], k, &now[c][k]);
        }
    return m;
}

/* What most harmonics say is not a voice's doing. It tells what each harmonic is worth. Then all of them together tell
 * it better. */
static FollowerMove heard_move(const HumFollower *f, Differences now)
{
    const double doubt = f->turn.phase_doubt, most = AGREED_REACH * sqrt(doubt) + AGREED_LEAST;
    const FollowerMove first = move_if(f, dsp_clamp(follower_most_agree(f, now), -most, most), now);
    return move_if(f, first.moved * doubt / (first.worth * doubt + 1.0), now);
}

/* The fundamental moves, and each harmonic. */
static void move(HumFollower *f)
{
    Differences now = {{{.power = 0.0}}};
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics; ++k)
            now[c][k] = follower_difference_now(&f->channel[c], f->block, k);
    const FollowerMove m = heard_move(f, now);
    const double ahead = m.worth > 0.0 ? m.moved / m.worth : 0.0;
    const double moved = turn_step(&f->turn, follower_block_seconds(f), ahead, m.worth, f->quiet);
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics; ++k) {
            FollowerChannel *const ch = &f->channel[c];
            FollowerDifference d = follower_difference(ch, f->block, k);
            follower_weigh(f, ch, k, &d);
            follower_move_harmonic(f, ch, k, &d, moved);
            ch->stirred[k] = (float)now[c][k].apart;
            if (f->quiet)
                follower_follow_usual(f, ch, k, &d);
        }
}

/* A hum whose make-up differs from the known one is learned as if none had been known. */
static void hear_other(HumFollower *f)
{
    double off = 0.0, all = 0.0;
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics; ++k) {
            const FollowerChannel *const ch = &f->channel[c];
            off += (double)ch->off.re[k] * (double)ch->off.re[k] + (double)ch->off.im[k] * (double)ch->off.im[k];
            all += follower_power(ch, k);
        }
    f->known = f->known && off < OTHER_SHARE * all;
}

static void learn_block(HumFollower *f)
{
    if (f->known && !f->aligned) {
        follower_align(f);
        if (!f->aligned)
            return;
    }
    follower_hear_proof(f);
    follower_hear_loss(f);
    move(f);
    hear_other(f);
    judge(f);
}

/* ---- A block begins ---- */

static void begin_block(HumFollower *f)
{
    follower_harmonics(f->phase, &f->reference);
    follower_harmonics(f->turn.speed / f->rate * f->stride, &f->rotate);
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; ++k)
        f->slope[k] = (float)(f->turn.speed / f->rate * f->stride * (k + 1));
    f->rises = (float)f->stride / (float)(f->cells * DSP_CELL);
    f->risen = 0.5f * f->rises;
    follower_fade(f);
    f->in_energy += f->energy;
    f->out_energy += f->depth * f->depth * f->put_energy * f->cells * DSP_CELL;
    f->energy = f->left = f->put_energy = 0.0;
    follower_aim(f);
}

static void end_block(HumFollower *f)
{
    follower_hear_rest(f);
    for (uint32_t c = 0; c < f->channels; ++c)
        follower_hear_block(f, &f->channel[c]);
    f->phase = fmod(f->phase + f->turn.speed * follower_block_seconds(f), 2.0 * DSP_PI);
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

void follower_process(HumFollower *f, const float *const *in, float hum[][DSP_CELL], uint32_t n)
{
    for (uint32_t from = 0, m; from < n; from += m) {
        if (f->at == 0)
            follower_step_point(f);
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
    return follower_nominal(f->family);
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
            power += 0.5 * (double)f->amount[k] * (double)f->amount[k] * follower_power(&f->channel[c], k);
        most = fmax(most, power);
    }
    return power_to_db(most);
}
