/* How loud the plate answers a voice: the wet level is held by scaling what goes into the tank. */
#ifndef LINCTUS_PLATE_LEVEL_H
#define LINCTUS_PLATE_LEVEL_H

#include "average_voice.h"

typedef struct {
    double rate;
    double power[AVERAGE_VOICE_BANDS]; /* of speech, men's and women's together (Byrne et al. 1994), to three digits */
} PlateLevel;

/* Makes the table of powers. rate: DSP_RATE_MIN..DSP_RATE_MAX. */
void plate_level_init(PlateLevel *level, double rate);

/* Seconds: the energy of the answer to speech of energy 1, were the power at its start 1. The power falls exponentially
 * from the first moment, 60 dB in `decay` seconds and sooner from about `damping` Hz on, and the low cut takes its
 * share first: band by band. */
double plate_level_seconds(const PlateLevel *level, double decay, double damping, double low_cut);

#endif
