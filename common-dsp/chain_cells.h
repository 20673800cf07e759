/* The samples of Chain's cells, through its stages. A part of chain.c. */
#ifndef LINCTUS_CHAIN_CELLS_H
#define LINCTUS_CHAIN_CELLS_H

#include "chain.h"

/* n samples of one cell through all stages, after the ticks of its grid point (processor.h). */
void chain_cell(Chain *c, const float *const *in, float *const *out, uint32_t n);

enum { CHAIN_ROW = 8 }; /* most cells that go through one stage before the next stage gets them; chosen, not searched */

/* Ticks and samples of 1..CHAIN_ROW cells through one stage after another, while nothing is compared. A stage's code
 * and memory stay in the cache for all of them, and no stage waits for what the stage before it wrote a moment ago. */
void chain_cells(Chain *c, const float *const *in, float *const *out, uint32_t cells);

#endif
