/* Tone's bands: where controls and findings want them, how they get there, and the gain that keeps the loudness
 * meanwhile. A part of tone.c. */
#ifndef LINCTUS_TONE_BANDS_H
#define LINCTUS_TONE_BANDS_H

#include "tone.h"

/* At a grid point: moves everything on by a cell. */
void tone_bands_tick(Tone *t);

/* true: nothing moves, and nothing listens. */
bool tone_bands_rest(Tone *t);

#endif
