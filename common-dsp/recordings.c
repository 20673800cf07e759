#include "recordings.h"

#include <math.h>

#define BOOK_MISFIT       2.3   /* dB: misfit of voices as in books, at most; */
#define RECORDED_MISFIT   3.1   /* of recorded ones, at least */
#define WANDER_HZ         500.0 /* Hz */
#define WANDER_DB         2.16  /* dB, of a recorded voice's curve at WANDER_HZ, */
#define BOOK_WANDER_SHARE 0.30  /* and how much of it a voice as in books has there and below; above, */
#define BOOK_WANDER_RISE  0.5   /* nepers per octave more */
#define WANDER_FALL       0.086 /* nepers per octave, that all of it falls towards high frequencies */
#define QUICK_SHARE       0.15  /* of the wandering goes over so many octaves, */
#define QUICK_OCTAVES     0.103
#define SLOW_OCTAVES      0.35 /* the rest over so many */
#define LEVEL_DB          30.0
#define TILT_DB           10.0 /* per octave */
#define BEND_DB           3.0  /* per octave squared */
#define BIN_MISFIT        0.5  /* dB, of any bin by itself, where a recorded voice wanders by WANDER_DB */
#define HARMONIC_SCATTER  1.0  /* dB, of one harmonic */

/* Means, level, tilt and bend taken out: of recorded voices, half from 25 voices of letters, syllables and speech, half
 * from the six that tests/voices.h tunes on; of the invented singer, 32 takes. */
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

/* How much this voice wanders here, of WANDER_DB. */
static double share_of_wander(const Recordings *r, double octave)
{
    const double share = BOOK_WANDER_SHARE * exp(BOOK_WANDER_RISE * fmax(octave, 0.0));
    return (share + (1.0 - share) * r->recorded) * exp(-WANDER_FALL * octave);
}

/* How alike what is this far away is, as far as it wanders over so many octaves. */
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
