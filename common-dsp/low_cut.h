/* The low cut that suits a voice, from its lowest note: common practice puts it under the lowest note, at 100 to 110 Hz
 * for a deep male voice and up to 150 Hz for a female one. The rule that gives those figures is our own. */
#ifndef LINCTUS_LOW_CUT_H
#define LINCTUS_LOW_CUT_H

#include "dsp.h"

#define LOW_CUT_UNDER 0.8  /* times the lowest note, from which a cut of 12 dB per octave then takes 1.5 dB */
#define LOW_CUT_LEAST 80.0 /* Hz */
#define LOW_CUT_MOST  150.0

/* Hz, from Hz; 0 from 0: no note is known. */
static inline double low_cut_for(double lowest_note)
{
    return lowest_note > 0.0 ? dsp_clamp(LOW_CUT_UNDER * lowest_note, LOW_CUT_LEAST, LOW_CUT_MOST) : 0.0;
}

#endif
