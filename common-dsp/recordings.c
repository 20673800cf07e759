#include "recordings.h"

#include <math.h>

#define BOOK_MISFIT       2.3   /* dB RMS: a voice whose misfit is at most this is fully one by the book */
#define RECORDED_MISFIT   3.1   /* dB RMS: from this misfit on a voice is fully a recorded one */
#define WANDER_HZ         500.0 /* Hz: where the two figures that follow are given */
#define WANDER_DB         2.16  /* dB: how far a recorded voice's curve wanders at WANDER_HZ */
#define BOOK_WANDER_SHARE 0.30  /* of WANDER_DB: a voice by the book wanders this much at WANDER_HZ and below */
#define BOOK_WANDER_RISE  0.5   /* nepers per octave by which that share rises above WANDER_HZ */
#define WANDER_FALL       0.086 /* nepers per octave by which any voice's wandering falls towards high frequencies */
#define QUICK_SHARE       0.15  /* of the wandering's variance is correlated over QUICK_OCTAVES */
#define QUICK_OCTAVES     0.103
#define SLOW_OCTAVES      0.35 /* the rest of it is correlated over this many octaves */
#define LEVEL_DB          30.0 /* dB: level, tilt and bend are as good as free */
#define TILT_DB           10.0 /* per octave */
#define BEND_DB           3.0  /* per octave squared */
#define BIN_MISFIT        0.5  /* dB: what a bin is off by itself, where the curve wanders by WANDER_DB */
#define HARMONIC_SCATTER  1.0  /* dB: scatter of one harmonic's level at WANDER_HZ */

/* Mean curves, dB, with level, tilt and bend taken out. Recorded: half from 25 voices of letters, syllables and speech,
 * half from the six tuning voices of tests/voices.h. In books: 32 takes of the invented singer. How every constant here
 * was settled: resonance.md, "Recordings". */
static const double recorded[CURVE_BINS] = {
    -3.2, -2.7, -2.0, -1.4, -0.8, -0.1, 0.2,  0.6,  0.9,  0.8,  0.8,  1.0,  1.1,  1.5,  1.5,  1.6,  1.5,  1.3,
    0.9,  0.7,  0.5,  0.7,  0.7,  0.6,  0.3,  0.1,  0.0,  0.1,  -0.1, -0.6, -0.7, -0.8, -0.8, -0.9, -1.1, -1.2,
    -1.5, -1.5, -1.5, -1.2, -0.8, -0.7, -1.0, -1.3, -1.1, -0.4, 0.3,  0.7,  1.1,  1.6,  2.1,  2.4,
};
static const double in_books[CURVE_BINS] = {
    -1.2, -1.1, -1.0, -1.0, -0.9, -0.8, -0.6, -0.5, -0.5, -0.6, -0.5, -0.3, -0.3, -0.2, 0.0,  0.1,  0.2,  0.4,
    0.6,  0.8,  0.9,  1.0,  1.1,  1.3,  1.3,  1.3,  1.2,  1.1,  1.0,  0.7,  0.4,  0.1,  -0.3, -0.7, -1.1, -1.4,
    -1.5, -1.6, -1.8, -1.9, -1.7, -1.5, -1.2, -0.9, -0.5, -0.2, 0.2,  0.6,  0.9,  1.3,  1.8,  2.1,
};

Recordings recordings_like(double misfit)
{
    return (Recordings){dsp_clamp((misfit - BOOK_MISFIT) / (RECORDED_MISFIT - BOOK_MISFIT), 0.0, 1.0)};
}

double recordings_mean(const Recordings *r, uint32_t bin)
{
    return r->recorded * recorded[bin] + (1.0 - r->recorded) * in_books[bin];
}

static double octave_of(uint32_t bin)
{
    return log2(curve_hz(bin) / WANDER_HZ);
}

/* How much this voice wanders at this octave, as a share of WANDER_DB. */
static double share_of_wander(const Recordings *r, double octave)
{
    const double share = BOOK_WANDER_SHARE * exp(BOOK_WANDER_RISE * fmax(octave, 0.0));
    return (share + (1.0 - share) * r->recorded) * exp(-WANDER_FALL * octave);
}

/* Correlation, 0..1, of two places `octaves` apart on a curve that wanders over `over` octaves. */
static double alike(double octaves, double over)
{
    return exp(-0.5 * octaves * octaves / (over * over));
}

double recordings_covariance(const Recordings *r, uint32_t bin, uint32_t other)
{
    const double x = octave_of(bin), y = octave_of(other);
    const double wander = WANDER_DB * WANDER_DB * share_of_wander(r, x) * share_of_wander(r, y);
    const double same = QUICK_SHARE * alike(x - y, QUICK_OCTAVES) + (1.0 - QUICK_SHARE) * alike(x - y, SLOW_OCTAVES);
    return wander * same + LEVEL_DB * LEVEL_DB + TILT_DB * TILT_DB * x * y + BEND_DB * BEND_DB * x * x * y * y;
}

double recordings_noise(const Recordings *r, uint32_t bin, double weight)
{
    const double octave = octave_of(bin), misfit = BIN_MISFIT * share_of_wander(r, octave);
    const double scatter = HARMONIC_SCATTER * exp(-WANDER_FALL * octave);
    return misfit * misfit + scatter * scatter / weight;
}
