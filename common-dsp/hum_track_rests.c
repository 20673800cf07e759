#include "hum_track_rests.h"

#include "hum_track_inside.h"
#include "hum_track_windows.h"
#include "quantile.h"

/* Set by trial over the voices for tuning, as those of hum_follower.c. */
#define MAINS_RANGE    0.013 /* of the nominal frequency: public supply holds 1 % */
#define SILENT_SHARE   0.01  /* of the hum's power: less is nothing */
#define QUIETEST_SHARE 0.08  /* share of the windows that are quieter than a typical rest */
#define REST_UNDER     3.0   /* times the power at that share: up to here a window lies in a rest */
#define LEAST_NOISE    0.01  /* of a harmonic's power: its noise is at least this */

enum {
    LONG = 25,   /* blocks of a rest at most */
    ON = 5,      /* blocks between two windows that are compared */
    SPEEDS = 64, /* speeds tried, to each side */
};

void track_find_quiet(HumTrack *t, double hum)
{
    uint32_t loud = 0;
    for (uint32_t b = 0; b < t->blocks; ++b) {
        HumTrackBlock *const block = &t->block[b];
        block->power = track_power(t, b * t->length, TRACK_SPAN * t->length);
        block->silent = track_power(t, (b + TRACK_SPAN / 2) * t->length, t->length) < SILENT_SHARE * hum;
        if (block->power >= SILENT_SHARE * hum)
            t->work[loud++] = block->power;
    }
    const double most = REST_UNDER * quantile(t->work, loud, QUIETEST_SHARE);
    for (uint32_t b = 0; b < t->blocks; ++b)
        t->block[b].quiet = t->block[b].power >= SILENT_SHARE * hum && t->block[b].power <= most;
}

/* How quickly the harmonics turn from one window to one ON blocks on. */
static double rest_speed(const HumTrack *t, const HumTrackRest *r)
{
    Pair product[FOLLOWER_HARMONICS] = {{0.0, 0.0}};
    double greatest;
    for (uint32_t b = r->from; b + ON < r->to; ++b)
        for (uint32_t c = 0; c < t->take.channels; ++c)
            for (uint32_t k = 0; k < t->harmonics; ++k) {
                const Pair p = pair_against(pair_at(&t->block[b + ON].heard[c], k), pair_at(&t->block[b].heard[c], k));
                product[k].re += (double)t->trust[c][k] * p.re;
                product[k].im += (double)t->trust[c][k] * p.im;
            }
    for (uint32_t k = 0; k < t->harmonics; ++k) {
        const double less = 1.0 / sqrt(sqrt(pair_power(product[k])) + 1e-30);
        product[k] = (Pair){less * product[k].re, less * product[k].im};
    }
    const double apart = ON * t->seconds;
    return pair_best_turn(product, t->harmonics, MAINS_RANGE * t->nominal * apart, SPEEDS, &greatest) / apart;
}

void track_rest_mean(const HumTrack *t, HumTrackRest *r)
{
    const double middle = 0.5 * (r->from + r->to - 1.0), n = r->to - r->from;
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < t->harmonics; ++k) {
            Pair sum = {0.0, 0.0};
            for (uint32_t b = r->from; b < r->to; ++b) {
                const double angle = -(k + 1.0) * r->speed * t->seconds * (b - middle);
                const Pair x = pair_times(pair_at(&t->block[b].heard[c], k), pair_turn(angle));
                sum.re += x.re / n;
                sum.im += x.im / n;
            }
            pair_put(&r->mean[c], k, sum);
        }
}

static void add_rest(HumTrack *t, uint32_t from, uint32_t to)
{
    HumTrackRest *const r = &t->rest[t->rests++];
    *r = (HumTrackRest){.from = from, .to = to};
    r->speed = rest_speed(t, r);
    track_rest_mean(t, r);
}

/* A hum is as loud in every quiet window, noise is not: of a steady power s in noise n, the mean power is s + n, and
 * the mean of its square s^2 + 4 s n + 2 n^2. */
static void find_trust(HumTrack *t, uint32_t c, uint32_t k)
{
    double mean = 0.0, square = 0.0, n = 1e-9;
    for (uint32_t b = 0; b < t->blocks; ++b)
        if (t->block[b].quiet) {
            const double power = pair_power(pair_at(&t->block[b].heard[c], k));
            mean += power;
            square += power * power;
            n += 1.0;
        }
    mean /= n;
    const double steady = sqrt(fmax(2.0 * mean * mean - square / n, 0.0));
    t->trust[c][k] = (float)(1.0 / (fmax(mean - steady, LEAST_NOISE * mean) + 1e-20));
}

void track_find_rests(HumTrack *t)
{
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < t->harmonics; ++k)
            find_trust(t, c, k);
    for (uint32_t b = 0, begun = 0; b <= t->blocks; ++b) {
        const bool quiet = b < t->blocks && t->block[b].quiet;
        if (b - begun >= TRACK_REST && (!quiet || b - begun == LONG))
            add_rest(t, begun, b);
        if (!quiet)
            begun = b + 1;
        else if (b - begun >= LONG)
            begun = b;
    }
}
