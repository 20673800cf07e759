/* The energy of a window that slides over a signal: from one place to the next it changes by the sample that comes in
 * and the one that goes out, in double. */
#ifndef LINCTUS_SLIDING_ENERGY_H
#define LINCTUS_SLIDING_ENERGY_H

#include <stddef.h>
#include <stdint.h>

/* Energies of the `count` windows, of `window` samples each, that start at x and at each sample after it. window: a
 * multiple of four. count is rounded up to a multiple of four; x has to have all samples of that many windows and one
 * more, and `energy` room for that many. */
void sliding_energy(const float *x, uint32_t window, uint32_t count, double *energy);

#endif
