/* The energy of a window that slides over a signal. At each step it adds the square of the sample that comes in and
 * takes off that of the one that goes out, in double. */
#ifndef LINCTUS_SLIDING_ENERGY_H
#define LINCTUS_SLIDING_ENERGY_H

#include <stdint.h>

/* Energies of the `count` windows, of `window` samples each, that start at x and at each sample after it. window: a
 * multiple of four. count is rounded up to a multiple of four. x must hold all samples of that many windows and one
 * more; `energy` must have room for that many. */
void sliding_energy(const float *x, uint32_t window, uint32_t count, double *energy);

#endif
