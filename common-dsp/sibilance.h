/* Does a sibilant (s z sh zh ch jh) sound, and how loud is it in each band? The answers are the same at any level of
 * the take.
 *
 * Three bands are weighed against the voice's own level, the decaying peak of what lies under 1.5 kHz. The high band, 3
 * to 8 kHz, has to stand out from the middle one, 1 to 2.5 kHz, which tells breath and h from a sibilant; and from the
 * low one, 120 Hz to 1.5 kHz, which is that strong only in a vowel, however bright. The high band also has to stand out
 * from the room's steady noise. Until a voice has sounded there is nothing to compare with, and no sibilant is found.
 * What goes on for longer than SIBILANCE_LONGEST is noise.
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

/* Length of a sibilant, s: from when it is found until it is known to have ended, 12 ms after its end. */
#define SIBILANCE_SHORTEST 0.025 /* a shorter one is a burst */
#define SIBILANCE_LONGEST  0.6   /* a longer one is noise */

/* Hz: middles of the bands, half an octave apart. A band that starts above 0.45 of the rate is silent. */
extern const double sibilance_hz[SIBILANCE_BANDS];

/* Filters run side by side, four in a vector. First come the lower flanks (high-passes) of the low, middle and high
 * band, and the high band's again. Behind them are the upper flanks of those three bands and the five bands'
 * band-passes, all of which follow the high band's lower flank. */
enum { SIBILANCE_LANES = 3 + SIBILANCE_BANDS, SIBILANCE_FOURS = SIBILANCE_LANES / FOUR };

typedef struct {
    FourStates flank, upper[SIBILANCE_FOURS];
} SibilanceState;

typedef struct {
    double rate; /* Hz */
    uint32_t channels;

    FourSections flank, upper[SIBILANCE_FOURS];
    SibilanceState state[DSP_CHANNELS];
    float keep[SIBILANCE_LANES], steady_keep; /* smoothing of powers: factor a sample */
    float gathered[SIBILANCE_LANES], steady;  /* running sums: of low, middle, high and the five, and of low smoothed
                                                 longer; 1 - keep times the sum is the smoothed power */

    double voice, floor;     /* dB: level of the voice; of the steady noise in the high band */
    uint32_t settling;       /* cells until the floor is measured */
    uint32_t open_for, hang; /* cells of evidence in a row; cells that may still pass without any */

    bool open;                     /* there is evidence of a sibilant */
    bool sounding;                 /* open, and not for too long: a sibilant sounds now */
    bool whole;                    /* the sibilant under way may be learned from */
    uint32_t cells;                /* for which it has sounded */
    double sum[SIBILANCE_BANDS];   /* of its powers, over those cells */
    double level[SIBILANCE_BANDS]; /* dB, mean power of the last one that was whole */
} Sibilance;

/* rate: Hz, DSP_RATE_MIN..DSP_RATE_MAX; channels: 1..DSP_CHANNELS. Leaves it reset. */
void sibilance_init(Sibilance *s, double rate, uint32_t channels);

/* As if nothing had been heard. The noise of the room is known 50 ms later, when the filters have settled. */
void sibilance_reset(Sibilance *s);

/* Takes in n samples of each channel that lie within one cell; full scale 1, finite (dsp_undamaged). */
void sibilance_process(Sibilance *s, const float *const *in, uint32_t n);

/* Call at every grid point, before the cell's samples: weighs the cell that has passed. true: a sibilant of
 * SIBILANCE_SHORTEST to SIBILANCE_LONGEST has just ended, and its levels stand in `level`. */
bool sibilance_tick(Sibilance *s);

/* Where a whole sibilant's noise is densest, log2 of Hz: the top of the parabola through the densest band that has two
 * neighbours, and those two. This project's own method; test_esses.c measures how near it comes. level: dB, of each
 * band; silent bands are left out. *density: dB, of the densest band, to compare sibilants of one take by. Where fewer
 * than three bands sound, as at a rate of 8 kHz, it returns 0 and a density of UNITS_DB_FLOOR. */
double sibilance_densest(const float *level, double *density);

/* Mean square in a band now, smoothed over 8 ms; 0 in a silent band. band: 0..SIBILANCE_BANDS - 1. */
double sibilance_power(const Sibilance *s, uint32_t band);

#endif
