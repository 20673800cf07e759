/* What Esses works out from the sibilants it knows: the upper end of this voice's usual range in a band, and where its
 * s is densest. Pure functions of the memory (esses_memory.h); each sibilant counts as often as it came. Method:
 * esses.md. */
#ifndef LINCTUS_ESSES_FIGURES_H
#define LINCTUS_ESSES_FIGURES_H

#include "esses_memory.h"

#define ESSES_CENTRE_LOWEST  3000.0  /* Hz: the control's lowest centre, and the lowest that is found */
#define ESSES_CENTRE_HIGHEST 10000.0 /* Hz: the same, highest */

/* Mean square in a band that takes in `weight` (0..1) of each of the five mean squares `power`. */
double esses_figures_band(const double power[SIBILANCE_BANDS], const double weight[SIBILANCE_BANDS]);

/* dB: upper end of this voice's usual range in such a band; esses.md ("The usual range") has the rule. m->count >=
 * ESSES_ENOUGH. */
double esses_figures_upper(const EssesMemory *m, const double weight[SIBILANCE_BANDS]);

/* The first of two steps to the centre, each for a cell of its own. dB: the density under which a sibilant is too faint
 * for an s, 6 dB under the median density. m->count >= ESSES_ENOUGH. */
double esses_figures_faintest(const EssesMemory *m);

/* The second step: log2 of the centre in Hz, ESSES_CENTRE_LOWEST..ESSES_CENTRE_HIGHEST, in steps of 1/24 octave but at
 * the ends. 0: fewer than ESSES_ENOUGH are known, or the rate is too low to tell (sibilance_densest() gives 0). */
double esses_figures_centre(const EssesMemory *m, double faintest);

#endif
