/* The low cut that suits a voice, from its lowest note: as high as it can lie while that note loses LOW_CUT_LOSS.
 *
 * Common practice puts it under the lowest note, at 100 to 110 Hz for a deep male voice and up to 150 Hz for a female
 * one. How near the note it may lie depends on how steeply it falls: a Butterworth filter of order n takes
 * 10 log10(1 + (cut/note)^2n) dB from a note. The steeper, the nearer it can lie, and the more rumble goes. */
#ifndef LINCTUS_LOW_CUT_H
#define LINCTUS_LOW_CUT_H

#include "dsp.h"

#include <math.h>

#define LOW_CUT_LOSS    0.85  /* dB, of the lowest note; with its vibrato under 1 dB */
#define LOW_CUT_LEAST   47.5  /* Hz: at 18 dB per octave it takes 12 dB from 30 Hz and 1 dB from 60 Hz */
#define LOW_CUT_MOST    150.0 /* Hz */
#define LOW_CUT_UNKNOWN 60.0  /* Hz, while no note is known: under every voice; takes 12 dB or more from 30 Hz */

/* Hz, from the lowest note in Hz and the filter's order, 2 or more; 0 from 0: no note is known. */
static inline double low_cut_for(double lowest_note, uint32_t order)
{
    const double share = pow(pow(10.0, 0.1 * LOW_CUT_LOSS) - 1.0, 0.5 / order);
    return lowest_note > 0.0 ? dsp_clamp(share * lowest_note, LOW_CUT_LEAST, LOW_CUT_MOST) : 0.0;
}

#endif
