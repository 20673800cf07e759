/* How a voice's loudness is spread over frequency, for a filter that has to keep it (even_loudness.h): blocks of 400 ms
 * sorted by level, with their K-weighted energy in third octaves. From this it follows, without listening again, how
 * much louder or quieter any filter makes this voice.
 *
 * Listening: each band is two equal complex one-pole resonators in series, about a band wide. The signal is raised by 6
 * dB per octave above 500 Hz first, so that strong lows do not leak into the bands above; the weights undo that and the
 * resonators' gain. Energies are read once a cell, often enough for means over blocks, so the resonators move a cell at
 * a time. The method is this project's own; tests/unit/test_voice_spectrum.c compares it with a meter by the standard.
 *
 * Energies are counted in whole units; the remainder goes to the next block. When a count passes half of 2^24 units, or
 * a level has 65535 blocks, everything is halved. */
#ifndef LINCTUS_VOICE_SPECTRUM_H
#define LINCTUS_VOICE_SPECTRUM_H

#include "dsp.h"
#include "even_loudness.h"

enum {
    SPECTRUM_BANDS = 28,    /* third octaves from 31 Hz to 16 kHz; those above 0.45 of the rate stay empty */
    SPECTRUM_STAGES = 2,    /* resonators in series */
    SPECTRUM_HOPS = 4,      /* hops of 100 ms in a block */
    SPECTRUM_ENOUGH = 10,   /* blocks: with fewer no figure is taken from them */
    SPECTRUM_UNITS = 1024,  /* energy of a block whose level is the middle of its row */
    SPECTRUM_MOST = 1 << 24 /* units that a count has room for */
};

/* What was heard. Zero it to empty it. */
typedef struct {
    uint32_t count; /* blocks in all, halved along with the counts */
    uint32_t blocks[EVEN_FINE];
    uint32_t energy[EVEN_ROWS][SPECTRUM_BANDS];
    double rest[SPECTRUM_BANDS]; /* parts of a unit not counted yet */
} VoiceSpectrum;

/* Complex numbers, one a band. */
typedef struct {
    float real[SPECTRUM_BANDS], imaginary[SPECTRUM_BANDS];
} SpectrumBands;

enum {
    SPECTRUM_ROW = 2 * SPECTRUM_BANDS, /* floats: the real parts, then the imaginary ones */
    SPECTRUM_LINE = 16                 /* floats of a cache line */
};

typedef struct {
    /* Factor of each of a cell's samples in the first stage's state at the cell's end: a row a sample. The rows begin
     * at a cache line, wherever this lies when it is made: else every second vector of eight would cross one. */
    float share[DSP_CELL * SPECTRUM_ROW + SPECTRUM_LINE - 1];
    uint32_t first_share;        /* place of the first row */
    SpectrumBands whole, across; /* over a cell: factor of a state, and of the first stage's state in the second's */
    SpectrumBands state[SPECTRUM_STAGES];
    float raise;              /* coefficient that raises the treble */
    float cell[1 + DSP_CELL]; /* the last sample of the previous cell, then this cell's so far */
    uint32_t filled;          /* samples of this cell so far */
    double weight[SPECTRUM_BANDS];
    uint32_t hop_cells, cells, hops;
    double hop[SPECTRUM_HOPS][SPECTRUM_BANDS]; /* a ring */
} SpectrumEar;

/* Hz, middle of a band, 0..SPECTRUM_BANDS - 1. */
double spectrum_hz(uint32_t band);

/* rate: Hz. channels: the signal passed in is their mean; energies are for their sum. Reset: nothing was heard. */
void spectrum_ear_init(SpectrumEar *e, double rate, uint32_t channels);
void spectrum_ear_reset(SpectrumEar *e);

/* n samples that lie within one cell. */
void spectrum_ear_process(SpectrumEar *e, const float *x, uint32_t n);

/* Call at the end of each cell. true: a block has ended; energy: its K-weighted mean square in each band. */
bool spectrum_ear_tick(SpectrumEar *e, double energy[SPECTRUM_BANDS]);

/* Counts a block; false: it is under EVEN_ABSOLUTE and does not count. */
bool spectrum_add(VoiceSpectrum *s, const double energy[SPECTRUM_BANDS]);

/* Adds one row's energy to the sums, before and after a filter; power: the filter's power factor in each band. */
void spectrum_sum(const VoiceSpectrum *s, uint32_t row, const double power[SPECTRUM_BANDS], EvenSums *sums);

/* Call after `blocks` and `energy` were restored: works `count` out. */
void spectrum_recount(VoiceSpectrum *s);

#endif
