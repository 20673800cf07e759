/* Does a sibilant (s z sh zh ch jh) sound? How loud is it, band by band? The same answers at any level of the take.
 *
 * It weighs three bands against the voice's own level, which is the decaying peak of what lies under 1.5 kHz:
 *   high, 3 to 8 kHz: has to stand out of
 *   middle, 1 to 2.5 kHz: which tells breath and h from a sibilant, and
 *   low, 120 Hz to 1.5 kHz: as strong as a vowel's only in a vowel, however bright that is.
 * The high band has also to stand out of the steady noise of the room. Nothing is heard before a voice has sounded, for
 * until then there is nothing to compare with. What goes on for more than SIBILANCE_LONGEST is noise.
 *
 * The weights are a logistic regression over labelled frames of synthetic speech and of the tests' singer, rounded.
 * That the spectrum above and below tells sibilants from other fricatives and from vowels: Jongman, Wayland, Wong, JASA
 * 108 (2000). From memory.
 *
 * Two channels are heard together: powers add up. It allocates nothing. */
#ifndef LINCTUS_SIBILANCE_H
#define LINCTUS_SIBILANCE_H

#include "four_svf.h"

enum { SIBILANCE_BANDS = 5 };

/* Seconds from when a sibilant is heard until it is known to have ended, 12 ms after its end. */
#define SIBILANCE_SHORTEST 0.025 /* what is shorter is a burst */
#define SIBILANCE_LONGEST  0.6   /* what is longer is noise */

/* Hz: middles of the bands, half an octave apart. One that starts above 0.45 of the rate is silent. */
extern const double sibilance_hz[SIBILANCE_BANDS];

/* Filters run beside each other, four a vector: the lower flanks of the low, middle, high and once more the high band;
 * behind them the upper flanks of the three and the first of the five, whose others also lie behind the high band's
 * lower. */
enum { SIBILANCE_LANES = 3 + SIBILANCE_BANDS, SIBILANCE_FOURS = SIBILANCE_LANES / FOUR };

typedef struct {
    FourStates flank, upper[SIBILANCE_FOURS];
} SibilanceState;

typedef struct {
    double rate; /* Hz */
    uint32_t channels;

    FourSections flank, upper[SIBILANCE_FOURS];
    SibilanceState state[DSP_CHANNELS];
    float keep[SIBILANCE_LANES], steady_keep; /* smoothing of powers: what is kept of them with each sample */
    float gathered[SIBILANCE_LANES], steady;  /* powers of low, middle, high and the five, and of low kept longer: each
                                                 sample's own added; smoothed they are 1 - keep times that */

    double voice, floor;     /* dB: level of the voice, of steady noise in the high band */
    uint32_t settling;       /* cells until the floor is measured */
    uint32_t open_for, hang; /* cells of evidence in a row; cells that may pass without */

    bool open;                     /* evidence holds */
    bool sounding;                 /* open, and not for too long: a sibilant sounds now */
    bool whole;                    /* the sibilant under way may be learned from */
    uint32_t cells;                /* how long it has sounded */
    double sum[SIBILANCE_BANDS];   /* of its powers */
    double level[SIBILANCE_BANDS]; /* dB, mean power of the last one that was whole */
} Sibilance;

/* rate: Hz, DSP_RATE_MIN..DSP_RATE_MAX; channels: 1..DSP_CHANNELS. Leaves it reset. */
void sibilance_init(Sibilance *s, double rate, uint32_t channels);

/* As if nothing had been heard. Takes the 50 ms that the filters settle in to know the noise of the room. */
void sibilance_reset(Sibilance *s);

/* Takes in n samples that lie within one cell, full scale 1, finite (dsp_undamaged); in: as many as channels. */
void sibilance_process(Sibilance *s, const float *const *in, uint32_t n);

/* At every grid point, before the cell: weighs the cell that has passed. True when a sibilant has just ended that is
 * neither too short nor too long: its levels stand in `level`. */
bool sibilance_tick(Sibilance *s);

/* Where a whole sibilant's noise is densest, log2 of Hz, from its levels in the bands: the top of the parabola through
 * the densest band that has neighbours and through these. Of ours; how near it comes is measured in test_esses.c.
 * *density, dB: how dense it is in the densest of them, to compare sibilants of one take by. A band that is silent is
 * left out. Returns 0, and UNITS_DB_FLOOR for the density, where fewer than three sound, as at a rate of 8 kHz. level:
 * dB, one a band. */
double sibilance_densest(const float *level, double *density);

/* Mean square now in one of the bands, smoothed over 8 ms; 0 in one that is silent. band: 0..SIBILANCE_BANDS - 1. */
double sibilance_power(const Sibilance *s, uint32_t band);

#endif
