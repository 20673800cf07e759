#include "hum_track_shape.h"

#include "hum_track_inside.h"
#include "quantile.h"

#include <string.h>

/* Set by trial over the voices for tuning. */
#define EXPLAINED_TIMES 2.0   /* times the power of what the rests differ by: else there is no hum */
#define HARMONIC_WANDER 0.01  /* of a harmonic, in a second: how it wanders by itself */
#define ROBUST_ROUNDS   5     /* rounds that make a mean which odd values do not move */
#define MEDIAN_OF_NOISE 0.693 /* of a power that is spread as noise is: where its middle lies */

/* The middle power of how far the rests are from x, as that of noise. */
static double spread(HumTrack *t, uint32_t c, uint32_t k, Pair x)
{
    uint32_t n = 0;
    for (uint32_t b = 0; b < t->blocks; ++b)
        if (t->block[b].quiet) {
            const Pair y = pair_at(&t->block[b].heard[c], k);
            track_row(t, 0)[n++] = pair_power((Pair){y.re - x.re, y.im - x.im});
        }
    return quantile(track_row(t, 0), n, 0.5) / MEDIAN_OF_NOISE + 1e-20;
}

static double middle_part(HumTrack *t, uint32_t c, uint32_t k, bool imaginary)
{
    uint32_t n = 0;
    for (uint32_t b = 0; b < t->blocks; ++b)
        if (t->block[b].quiet)
            track_row(t, 0)[n++] = imaginary ? (double)t->block[b].heard[c].im[k] : (double)t->block[b].heard[c].re[k];
    return quantile(track_row(t, 0), n, 0.5);
}

void track_find_shape(HumTrack *t, uint32_t c, uint32_t k)
{
    Pair x = {middle_part(t, c, k, false), middle_part(t, c, k, true)};
    for (int i = 0; i < ROBUST_ROUNDS; ++i) {
        const double usual = spread(t, c, k, x);
        Pair sum = {0.0, 0.0};
        double all = 0.0;
        for (uint32_t b = 0; b < t->blocks; ++b) {
            const Pair y = pair_at(&t->block[b].heard[c], k);
            const double w = t->block[b].quiet ? 1.0 / (usual + pair_power((Pair){y.re - x.re, y.im - x.im})) : 0.0;
            sum.re += w * y.re;
            sum.im += w * y.im;
            all += w;
        }
        x = (Pair){sum.re / all, sum.im / all};
    }
    pair_put(&t->shape[c], k, x);
    t->noise[c][k] = (float)spread(t, c, k, x);
}

/* A part of a harmonic. */
static void part_wanders(HumTrack *t, uint32_t c, uint32_t k, bool imaginary)
{
    double *const value = track_row(t, 2), *band[] = {track_row(t, 0), track_row(t, 1)};
    const Pair a = pair_at(&t->shape[c], k);
    memset(t->work, 0, sizeof *t->work * 2 * t->blocks);
    for (uint32_t b = 0; b < t->blocks; ++b) {
        const HumTrackBlock *const block = &t->block[b];
        const Pair y = pair_at(&block->heard[c], k), d = {y.re - a.re, y.im - a.im};
        band[0][b] = block->quiet ? 1.0 / (TRACK_OVERLAP * ((double)t->noise[c][k] + pair_power(d))) : 0.0;
        value[b] = imaginary ? d.im : d.re;
    }
    smoothest(value, band, t->blocks, 1,
              1.0 / (HARMONIC_WANDER * HARMONIC_WANDER * t->seconds * (pair_power(a) + 1e-20)));
    for (uint32_t b = 0; b < t->blocks; ++b) {
        const double is = (imaginary ? a.im : a.re) + value[b];
        float *const to = imaginary ? t->block[b].hum[c].im : t->block[b].hum[c].re;
        to[k] = t->block[b].silent ? 0.f : (float)is;
    }
}

void track_wander(HumTrack *t, uint32_t c, uint32_t k)
{
    part_wanders(t, c, k, false);
    part_wanders(t, c, k, true);
}

bool track_explains(const HumTrack *t)
{
    double hum = 0.0, noise = 0.0;
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < t->harmonics; ++k) {
            hum += pair_power(pair_at(&t->shape[c], k)) / (double)t->noise[c][k];
            noise += 1.0;
        }
    return hum > EXPLAINED_TIMES * noise;
}
