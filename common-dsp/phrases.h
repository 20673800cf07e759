/* Phrases: what is sung or said between two rests of 0.3 s or more, and the level of each: unweighted RMS from its
 * first sound to its last, above 100 Hz so that pops have no part in it. A frame less than 20 dB under the voice's
 * level is sound; in loud noise, only if it has a pitch or had one less than 0.2 s ago. Everything else is rest. */
#ifndef LINCTUS_PHRASES_H
#define LINCTUS_PHRASES_H

#include "hearing.h"

/* Zero it to reset. */
typedef struct {
    uint32_t length, voiced, silent; /* frames up to the last sound; how many are voiced; frames since the last sound */
    uint32_t unvoiced;               /* frames since the last pitch */
    double power, since;             /* sums of power: up to the last sound; since it */
    double loud, noise;              /* power of the loudest frame, falling slowly; of the faintest, rising slowly */
} Phrases;

/* Takes in the next frame. level: the voice's, dB; UNITS_DB_FLOOR: not known, and 6 dB under the loudest frame of the
 * last seconds is taken. true: a phrase of 0.2 s or more, with 0.1 s of voice or more, is over (one of 15 s is cut
 * there), and *db is its level. */
bool phrases_hear(Phrases *p, const HearingFrame *frame, double level, double *db);

#endif
