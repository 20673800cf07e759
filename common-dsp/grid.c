#include "grid.h"

void grid_walk(Grid *grid, uint32_t n, const GridSteps *steps, void *with)
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
