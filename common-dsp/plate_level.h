/* How strongly the plate responds to a voice. The wet level is held by scaling the input of the tank accordingly. */
#ifndef LINCTUS_PLATE_LEVEL_H
#define LINCTUS_PLATE_LEVEL_H

#include "average_voice.h"

typedef struct {
    double rate;
    double power[AVERAGE_VOICE_BANDS]; /* of men's and women's speech together (Byrne et al. 1994), to three digits */
} PlateLevel;

/* Makes the table of powers. rate: DSP_RATE_MIN..DSP_RATE_MAX. */
void plate_level_init(PlateLevel *level, double rate);

/* Energy, in seconds, of a response to speech of energy 1 whose power starts at 1. The power falls exponentially from
 * the start, by 60 dB in `decay` seconds (s) and faster from about `damping` (Hz) up; the low cut (Hz) comes first.
 * Summed over the bands of speech. */
double plate_level_seconds(const PlateLevel *level, double decay, double damping, double low_cut);

#endif
