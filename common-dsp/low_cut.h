/* The low cut that suits a voice: as high as it can be while the lowest note loses LOW_CUT_LOSS.
 *
 * Common practice puts it under the lowest note, at 100 to 110 Hz for a deep male voice and up to 150 Hz for a female
 * one. How close to the note it can be depends on the slope: a Butterworth high-pass of order n takes
 * 10 log10(1 + (cut/note)^2n) dB from a note. A steeper one can be closer, and removes more rumble. */
#ifndef LINCTUS_LOW_CUT_H
#define LINCTUS_LOW_CUT_H

#include "dsp.h"

#include <math.h>

#define LOW_CUT_LOSS    0.85  /* dB taken from the lowest note; with vibrato it loses less than 1 dB */
#define LOW_CUT_LEAST   47.5  /* Hz, lowest cut: at 18 dB per octave it takes 12 dB at 30 Hz and 1 dB at 60 Hz */
#define LOW_CUT_MOST    150.0 /* Hz, highest cut: that of common practice above */
#define LOW_CUT_UNKNOWN 60.0  /* Hz, cut while no note is known: under every voice; takes 12 dB or more at 30 Hz */

/* The cut in Hz. lowest_note: Hz; 0 for no note known returns 0. order: of the filter, 2 or more. */
static inline double low_cut_for(double lowest_note, uint32_t order)
{
    const double share = pow(pow(10.0, 0.1 * LOW_CUT_LOSS) - 1.0, 0.5 / order);
    return lowest_note > 0.0 ? dsp_clamp(share * lowest_note, LOW_CUT_LEAST, LOW_CUT_MOST) : 0.0;
}

#endif
