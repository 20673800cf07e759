/* The one walk along the grid (dsp.h). It cuts a block of any length at the grid points, wherever the blocks before it
 * ended, so that what is done at a grid point and what is done in between never depend on the caller's blocks. */
#ifndef LINCTUS_GRID_H
#define LINCTUS_GRID_H

#include "dsp.h"

/* Where a walk stands. Zero: at a grid point, as after a reset. */
typedef struct {
    uint32_t into; /* samples of the cell under way that lie behind, 0..DSP_CELL - 1 */
} Grid;

/* What is done along the way; `with` is whatever was handed to grid_walk(). */
typedef struct {
    void (*point)(void *with);                            /* a grid point, before the first sample of its cell */
    void (*piece)(void *with, uint32_t from, uint32_t n); /* samples from..from + n - 1 of the block, n of 1..DSP_CELL:
                                                             what the block has of one cell */
} GridSteps;

/* Grid points that a block of n samples has. */
static inline uint32_t grid_points(const Grid *grid, uint32_t n)
{
    const uint32_t before = grid->into ? DSP_CELL - grid->into : 0;
    return n > before ? (n - before - 1) / DSP_CELL + 1 : 0;
}

/* A block of n samples; 0 does nothing. A grid point comes with the first sample after it: a block that ends on one
 * leaves it to the next. Here, so that a caller's steps become part of the walk. */
static inline void grid_walk(Grid *grid, uint32_t n, const GridSteps *steps, void *with)
{
    for (uint32_t at = 0; at < n;) {
        if (grid->into == 0)
            steps->point(with);
        const uint32_t left = DSP_CELL - grid->into, m = n - at < left ? n - at : left;
        steps->piece(with, at, m);
        grid->into = (grid->into + m) % DSP_CELL;
        at += m;
    }
}

#endif
