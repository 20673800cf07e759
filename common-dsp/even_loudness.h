/* Even loudness: the gain that keeps the loudness of a processor's input. All processors that change loudness as a side
 * effect share it, so that switching one on and off compares the sound, and levels stay the same through a chain.
 *
 * Loudness is that of ITU-R BS.1770: K-weighted energy of blocks of 400 ms every 100 ms, gated 10 LU below their mean.
 * Input and output each have their own gate. A processor keeps the blocks by level, in rows of 3 dB (counted every 1
 * dB, for the gates), and each row's energy in columns: by detector level (levels.h), by frequency (spectrum.h). What
 * the processor does to each column gives three sums for each row, and these give the gain, which is thus a pure
 * function of what was learned and of the controls. */
#ifndef LINCTUS_EVEN_LOUDNESS_H
#define LINCTUS_EVEN_LOUDNESS_H

#include <stdbool.h>
#include <stdint.h>

enum {
    EVEN_STEP = 3,                     /* dB from one row to the next */
    EVEN_ROWS = 33,                    /* rows of blocks, by their K-weighted mean square */
    EVEN_ROW_LOW = -81,                /* dB: middle of the first row */
    EVEN_FINE = EVEN_ROWS * EVEN_STEP, /* counts of blocks, one for every 1 dB, for the gates */
};

/* Mean square, 10^(-82.5/10): fainter blocks are silence. The standard's absolute gate, -70 LUFS, would drop the rests
 * of a quiet take and keep those of a loud one, though both have to get the same gain. */
#define EVEN_ABSOLUTE   5.6e-9
#define EVEN_MOST_UNITS (65535u * 256u) /* units of energy, the most that a figure can store */
#define EVEN_RISE       6.0             /* dB/s: fastest rise of the gain */
#define EVEN_GLIDE      0.012           /* s: each of the two poles that the gain is smoothed with */

/* Energies of each row: of the input, times the gain, times its square. */
typedef struct {
    double in[EVEN_ROWS], cross[EVEN_ROWS], out[EVEN_ROWS];
} EvenSums;

/* Index of the 1 dB count for a block of this level, dB; its row is index / EVEN_STEP. Levels outside count at the
 * nearer end. */
uint32_t even_fine(double level);

/* Middle of a row: its level, dB, and the power of that, to the bit what db_to_power() gave where the table was made.
 */
double even_row_level(uint32_t row);
double even_row_power(uint32_t row);

/* Halves n counts of blocks, or energies: proportions stay, and what was heard so far weighs half from here on. What is
 * above 0 stays above 0. */
void even_halve(uint32_t *units, uint32_t n);

/* Shares energy, in units, between the two columns nearest to `at` (a place among them, held within 0..columns - 1), so
 * that its mean place is kept. Returns true if a column is over half of EVEN_MOST_UNITS: then all have to be halved. */
bool even_share(uint32_t *column, uint32_t columns, double at, double units);

/* dB: gain on the processed signal, of which `blend` (0..1) is mixed with 1 - blend of the input. 0 while nothing was
 * heard, and exactly 0 where all three sums are equal. */
double even_gain(const uint32_t blocks[EVEN_FINE], const EvenSums *sums, double blend);

/* dB: the next value of the gain on its way from `now` to `wished`. It rises by `most` (EVEN_RISE times the time that
 * has passed) or less, too slowly to be heard. It falls at once, quicker than any control moves what it makes up for,
 * so that no control can make a burst. The caller has to smooth it with EVEN_GLIDE. */
double even_move(double now, double wished, double most);

#endif
