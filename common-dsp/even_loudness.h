/* Even loudness: the gain with which a stage keeps the loudness of what went in, for every processor that changes it by
 * the way. One implementation for all, so that off and on compare the sound, and levels stay through a chain.
 *
 * Loudness is that of ITU-R BS.1770: K-weighted energy of blocks of 400 ms every 100 ms, gated 10 LU below their mean,
 * what went in by its own gate and what comes out by its own. A processor keeps the blocks by level, in rows of 3 dB
 * (counted every 1 dB, for the gates), each with its energy in as many columns as the processor can tell apart: by
 * detector level (levels.h), by frequency (spectrum.h). From what the processor does to each column follow three sums
 * for each row, and from them the gain; so it is a pure function of what was learned and of the controls. */
#ifndef LINCTUS_EVEN_LOUDNESS_H
#define LINCTUS_EVEN_LOUDNESS_H

#include <stdint.h>

enum {
    EVEN_STEP = 3,                     /* dB from one row to the next */
    EVEN_ROWS = 33,                    /* of blocks, by their K-weighted mean square */
    EVEN_ROW_LOW = -81,                /* dB, middle of the first row */
    EVEN_FINE = EVEN_ROWS * EVEN_STEP, /* the blocks are counted every 1 dB, for the gates */
};

/* Mean square under the lowest row, 10^(-82.5/10): what is fainter is silence. The standard's gate in absolute level,
 * -70 LUFS, would cut the rests of a quiet take away and leave those of a loud one; both are to get the same gain. */
#define EVEN_ABSOLUTE 5.6e-9
#define EVEN_RISE     6.0   /* dB/s */
#define EVEN_GLIDE    0.012 /* s, each of the two poles that the gain is smoothed with */

/* Energies of each row: as it went in, times the gain, times its square. */
typedef struct {
    double in[EVEN_ROWS], cross[EVEN_ROWS], out[EVEN_ROWS];
} EvenSums;

/* Which 1 dB a block of this level in dB belongs to; row = fine / EVEN_STEP. Levels outside count as the nearer end. */
uint32_t even_fine(double level);

/* dB, of the row's middle. */
double even_row_level(uint32_t row);

/* dB, of what is put on the processed signal, when `blend` (0..1) of it comes out beside 1 - blend of the input. 0
 * while nothing was heard, and exactly 0 where all three sums are equal. */
double even_gain(const uint32_t blocks[EVEN_FINE], const EvenSums *sums, double blend);

/* The next value of the gain in dB, on its way from `now`: up by at most `most` (EVEN_RISE times the time that has
 * passed), so that nobody hears it rise; down at once, quicker than a control moves what it makes up for, so that no
 * control can make a burst. What it is put on has to be smoothed with EVEN_GLIDE. */
double even_move(double now, double wished, double most);

#endif
