/* What Esses works out of the sibilants it knows: up to where this voice's usual range reaches in a band, and where its
 * s is densest. Pure functions of the memory (esses_memory.h); each sibilant counts as often as it came. Method:
 * esses.md.
 */
#ifndef LINCTUS_ESSES_FIGURES_H
#define LINCTUS_ESSES_FIGURES_H

#include "esses_memory.h"

#define ESSES_CENTRE_LOWEST  3000.0 /* Hz: the centre found lies within the range of the control */
#define ESSES_CENTRE_HIGHEST 10000.0

/* The power in a band that takes in `weight` (0..1) of each of the five powers, mean squares. */
double esses_figures_band(const double power[SIBILANCE_BANDS], const double weight[SIBILANCE_BANDS]);

/* dB, the upper end of this voice's usual range in such a band: the median, and over it 0.85 of the distance from the
 * level that a tenth lie under to the median. So what explodes cannot raise it, and a voice whose sibilants differ by
 * nature has it further up. It lies 3 dB over the median or more, and those more than 8 dB under the median of all are
 * left out; but nowhere less than 2.5 dB over the level that a quarter of all and one more pass. m->count >=
 * ESSES_ENOUGH. */
double esses_figures_upper(const EssesMemory *m, const double weight[SIBILANCE_BANDS]);

/* The centre in two steps, for a cell each. First the density, dB, under which a sibilant is too faint for an s: 6 dB
 * under the median density. m->count >= ESSES_ENOUGH. */
double esses_figures_faintest(const EssesMemory *m);

/* Then log2 of the centre in Hz, ESSES_CENTRE_LOWEST..ESSES_CENTRE_HIGHEST, in steps of 1/24 octave but at the ends.
 * 0: fewer than ESSES_ENOUGH are known, or the rate is too low to tell (sibilance_densest() of 0). */
double esses_figures_centre(const EssesMemory *m, double faintest);

#endif
