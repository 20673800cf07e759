/* The one walk along the grid (dsp.h). It cuts a block of any length at the grid points, wherever earlier blocks ended,
 * so that nothing done at a grid point or in between depends on the caller's block sizes. */
#ifndef LINCTUS_GRID_H
#define LINCTUS_GRID_H

#include "dsp.h"

/* The position of a walk. All zero: at a grid point, as after a reset. */
typedef struct {
    uint32_t into; /* samples of the current cell that are done, 0..DSP_CELL - 1 */
} Grid;

/* What a walk calls; `with` is the pointer given to grid_walk(). */
typedef struct {
    void (*point)(void *with);                            /* at a grid point, before the first sample of its cell */
    void (*piece)(void *with, uint32_t from, uint32_t n); /* for the part of a cell that the block holds: its samples
                                                             from..from + n - 1; n: 1..DSP_CELL */

    /* Called at a grid point in place of the two above: may do up to `most` (1 or more) whole cells from there on,
     * which never include the block's last grid point. Returns how many it did; 0: none. NULL: it is never called. */
    uint32_t (*cells)(void *with, uint32_t from, uint32_t most);
} GridSteps;

/* The number of grid points in a block of n samples. */
static inline uint32_t grid_points(const Grid *grid, uint32_t n)
{
    const uint32_t before = grid->into ? DSP_CELL - grid->into : 0;
    return n > before ? (n - before - 1) / DSP_CELL + 1 : 0;
}

/* Walks through a block of n samples; 0 does nothing. A grid point is taken with the first sample after it: a block
 * that ends on one leaves it to the next block. Inline, so that a caller's functions can be compiled into the walk. */
static inline void grid_walk(Grid *grid, uint32_t n, const GridSteps *steps, void *with)
{
    for (uint32_t at = 0; at < n;) {
        const uint32_t most = grid->into == 0 && steps->cells ? (n - at - 1) / DSP_CELL : 0;
        const uint32_t done = most ? steps->cells(with, at, most) : 0;
        at += done * DSP_CELL;
        if (done)
            continue;
        if (grid->into == 0)
            steps->point(with);
        const uint32_t left = DSP_CELL - grid->into, m = n - at < left ? n - at : left;
        steps->piece(with, at, m);
        grid->into = (grid->into + m) % DSP_CELL;
        at += m;
    }
}

#endif
