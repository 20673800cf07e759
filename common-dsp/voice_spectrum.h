/* How a voice's loudness is spread over frequency, for a filter that has to keep it (even_loudness.h): blocks of 400 ms
 * by their level, each with its K-weighted energy in third octaves. From it follows, without listening again, how much
 * louder or quieter any filter makes this voice.
 *
 * Listening: each band is two equal complex one-pole resonators in a row, of about the width of a band, on the signal
 * with everything above 500 Hz raised by 6 dB per octave, so that what is strong below does not leak into the bands
 * above; both are taken out again by the weights. Energies are read once a cell, which is often enough for means over
 * blocks: so the resonators are not turned sample by sample, but a cell at a time, by what each of its samples comes to
 * at the end. The method is this project's own; tests/unit/test_voice_spectrum.c compares it with a meter by the
 * standard.
 *
 * Energies are counted in whole units, what is left over goes to the next block. Over 2^24 units, or 65535 blocks of
 * one level, everything is halved. */
#ifndef LINCTUS_VOICE_SPECTRUM_H
#define LINCTUS_VOICE_SPECTRUM_H

#include "dsp.h"
#include "even_loudness.h"

enum {
    SPECTRUM_BANDS = 28, /* third octaves from 31 Hz to 16 kHz; those above 0.45 of the rate stay empty */
    SPECTRUM_PLACES = 32,
    SPECTRUM_STAGES = 2,
    SPECTRUM_HOPS = 4,      /* of 100 ms, in a block */
    SPECTRUM_ENOUGH = 10,   /* blocks, before a figure is taken from them */
    SPECTRUM_UNITS = 1024,  /* of energy: a block in the middle of its row */
    SPECTRUM_MOST = 1 << 24 /* units in one place */
};

/* What was heard. Zero it to empty it. */
typedef struct {
    uint32_t count; /* blocks in all, halvings included */
    uint32_t blocks[EVEN_FINE];
    uint32_t energy[EVEN_ROWS][SPECTRUM_BANDS];
    double rest[SPECTRUM_BANDS]; /* of a unit, not yet counted */
} VoiceSpectrum;

/* Complex numbers, one a band; the places that are over hold 0. */
typedef struct {
    float real[SPECTRUM_PLACES], imaginary[SPECTRUM_PLACES];
} SpectrumBands;

#define SPECTRUM_ROW  (2 * SPECTRUM_PLACES) /* floats: the real parts, then the imaginary ones */
#define SPECTRUM_LINE 16                    /* floats of a cache line */

typedef struct {
    /* Of each of a cell's samples in the first stage's state at the cell's end: a row a sample. They begin at a cache
     * line, wherever this lies when it is made: else every second vector of eight would cross one. */
    float share[DSP_CELL * SPECTRUM_ROW + SPECTRUM_LINE - 1];
    uint32_t first_share;
    SpectrumBands whole,
        across; /* over a cell: what is left of a state, and what the first stage's adds to the second */
    SpectrumBands state[SPECTRUM_STAGES];
    float raise;              /* of the input's raised treble */
    float cell[1 + DSP_CELL]; /* the last sample of the cell before, and this one's so far */
    uint32_t filled;
    double weight[SPECTRUM_BANDS];
    uint32_t hop_cells, cells, hops;
    double hop[SPECTRUM_HOPS][SPECTRUM_BANDS]; /* a ring */
} SpectrumEar;

/* Hz, the middle of a band. */
double spectrum_hz(uint32_t band);

/* channels: of which the one that is heard is the mean; their energies add up. */
void spectrum_ear_init(SpectrumEar *e, double rate, uint32_t channels);
void spectrum_ear_reset(SpectrumEar *e);

/* Samples of one cell. */
void spectrum_ear_process(SpectrumEar *e, const float *x, uint32_t n);

/* At the end of a cell. true: a block has ended; its K-weighted mean square in each band. */
bool spectrum_ear_tick(SpectrumEar *e, double energy[SPECTRUM_BANDS]);

/* Counts a block; one under EVEN_ABSOLUTE does not count, and false is returned. */
bool spectrum_add(VoiceSpectrum *s, const double energy[SPECTRUM_BANDS]);

/* A row's part of the sums, for a filter with these factors of power. */
void spectrum_sum(const VoiceSpectrum *s, uint32_t row, const double power[SPECTRUM_BANDS], EvenSums *sums);

/* After `blocks` and `energy` were read from elsewhere. */
void spectrum_recount(VoiceSpectrum *s);

#endif
