#include "hum_track_curve.h"

#include "hum_track_inside.h"
#include "hum_track_shape.h"
#include "hum_track_windows.h"
#include "units.h"

#include <string.h>

/* Set by trial over the voices for tuning, not searched one by one. */
#define DRIFT_WANDER 0.125 /* rad/s^3: how the drift of the fundamental wanders */
#define NOISE_SHARE  0.5   /* of a measurement's difference is at least its noise: not all of it is a voice */
#define FIRST_REACH  0.7   /* s from a rest: so far measurements count in the first round */
#define REACH_GROWTH 1.5   /* times as far in each further round */
#define STRETCH_TIME 0.5   /* s: time constant of the mean agreement of the lowest harmonics with the curve */
#define ASTRAY_FROM  0.0   /* that mean is no higher: the curve has gone astray */

enum {
    SOME = 6,   /* harmonics that tell where the curve is known a little */
    ROUNDS = 6, /* rounds, at least */
};

/* Harmonics that tell, so far from a rest. */
static uint32_t telling(const HumTrack *t, const HumTrackBlock *block, double reach)
{
    return block->away > reach          ? 0
           : block->away > 0.5 * reach  ? TRACK_FEW
           : block->away > 0.25 * reach ? SOME
                                        : t->harmonics;
}

/* A hum that turned keeps its amplitude: what differs in that is a voice's doing, twice over, as half of what a voice
 * does only turns it. */
static void hear_voice(HumTrack *t, HumTrackBlock *block)
{
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < t->harmonics; ++k) {
            const double louder =
                sqrt(pair_power(pair_at(&block->heard[c], k))) - sqrt(pair_power(pair_at(&t->shape[c], k)));
            block->voice[c][k] = (float)(2.0 * louder * louder);
        }
}

/* At least what it is in the windows next to it on the mean: a voice can leave the amplitude as it was by chance. */
static double voice_at(const HumTrack *t, uint32_t b, uint32_t c, uint32_t k)
{
    const uint32_t from = b ? b - 1 : b, to = b + 1 < t->blocks ? b + 1 : b;
    double sum = 0.0;
    for (uint32_t i = from; i <= to; ++i)
        sum += (double)t->block[i].voice[c][k];
    return fmax((double)t->block[b].voice[c][k], sum / (to - from + 1));
}

/* How far a window says the curve is off. *worth, 1/rad^2: what that is worth; 0 before the call. */
static double off_by(const HumTrack *t, uint32_t b, double reach, double *worth)
{
    const HumTrackBlock *const block = &t->block[b];
    const bool near = block->away <= 0.25 * reach;
    double sum = 0.0;
    for (uint32_t c = 0; c < t->take.channels && !block->silent; ++c)
        for (uint32_t k = 0; k < telling(t, block, reach); ++k) {
            const Pair x = pair_at(&block->heard[c], k), a = pair_at(&t->shape[c], k), p = pair_against(x, a);
            const double own = pair_power(a), n = k + 1.0;
            const double aside = near ? p.im * p.im / own : 0.0; /* 0 / 0 without a hum: fmax passes over it */
            const double noise = (double)t->noise[c][k] + NOISE_SHARE * fmax(voice_at(t, b, c, k), aside);
            const double weight = 2.0 / (TRACK_OVERLAP * noise);
            sum += weight * n * own * atan2(p.im, p.re);
            *worth += weight * n * n * own;
        }
    return *worth > 0.0 ? sum / *worth : 0.0;
}

/* The curve is moved to where the harmonics say. */
static void bend(HumTrack *t, double reach)
{
    double *const value = track_row(t, 0), *const band[] = {track_row(t, 1), track_row(t, 2), track_row(t, 3),
                                                            track_row(t, 4)};
    memset(band[0], 0, sizeof *t->work * (SMOOTHEST_ORDER + 1) * t->blocks);
    for (uint32_t b = 0; b < t->blocks; ++b)
        hear_voice(t, &t->block[b]);
    for (uint32_t b = 0; b < t->blocks; ++b)
        value[b] = t->block[b].phase + off_by(t, b, reach, &band[0][b]);
    smoothest(value, band, t->blocks, SMOOTHEST_ORDER, pow(DRIFT_WANDER * t->seconds * t->seconds * t->seconds, -2.0));
    for (uint32_t b = 0; b < t->blocks; ++b)
        t->block[b].phase = value[b];
}

void track_follow(HumTrack *t)
{
    double farthest = 0.0, reach = FIRST_REACH;
    for (uint32_t b = 0; b < t->blocks; ++b)
        farthest = fmax(farthest, t->block[b].away);
    for (int i = 0; i < ROUNDS || reach < 8.0 * farthest; ++i, reach *= REACH_GROWTH) {
        track_hear(t);
        for (uint32_t c = 0; c < t->take.channels; ++c)
            for (uint32_t k = 0; k < t->harmonics; ++k)
                track_find_shape(t, c, k);
        bend(t, reach);
    }
    track_hear(t);
}

/* How well the lowest harmonics of a window agree with the curve, -1..1: by their phases alone, so that no voice drowns
 * the others. */
static double agreement(const HumTrack *t, const HumTrackBlock *block)
{
    double sum = 0.0, all = 0.0;
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < TRACK_FEW; ++k) {
            const Pair x = pair_at(&block->heard[c], k), a = pair_at(&t->shape[c], k);
            const double worth = 1.0 / sqrt((double)t->noise[c][k]);
            sum += worth * pair_against(x, a).re / sqrt(pair_power(x) + 1e-30);
            all += worth * sqrt(pair_power(a));
        }
    return all > 0.0 ? sum / all : 0.0;
}

/* Along the take, or back: where the curve has gone astray lately. */
static void find_astray(HumTrack *t, bool back)
{
    const double keep = one_pole(STRETCH_TIME, 1.0 / t->seconds);
    double lately = 1.0;
    for (uint32_t i = 0; i < t->blocks; ++i) {
        HumTrackBlock *const block = &t->block[back ? t->blocks - 1 - i : i];
        const double now = block->silent ? 1.0 : agreement(t, block);
        lately = now + keep * (lately - now);
        block->told = block->told && lately > ASTRAY_FROM;
    }
}

bool track_tells(HumTrack *t)
{
    uint32_t told = 0;
    for (uint32_t b = 0; b < t->blocks; ++b)
        t->block[b].told = true;
    find_astray(t, false);
    find_astray(t, true);
    for (uint32_t from = 0, to; from < t->blocks; from = to) {
        bool all = true;
        for (to = from; to < t->blocks && t->block[to].away > 0.0; ++to)
            all = all && t->block[to].told;
        to += to == from; /* a block in a rest */
        for (uint32_t b = from; b < to; ++b) {
            t->block[b].told = all;
            told += all;
        }
    }
    return 4 * told >= t->blocks;
}
