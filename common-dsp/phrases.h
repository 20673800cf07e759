/* Phrases: what is sung or said between two rests of 0.3 s or more, and how loud each is: plain RMS above 100 Hz, so
 * that no pop has a part in it, from its first sound to its last. Sound is what lies less than 20 dB under the voice's
 * level, or, in noise that is louder than that, what has a voice in it or had one less than 0.2 s ago; all else is
 * rest. */
#ifndef LINCTUS_PHRASES_H
#define LINCTUS_PHRASES_H

#include "hearing.h"

/* Zero it to reset. */
typedef struct {
    uint32_t length, voiced, silent; /* frames to the last that sounds; of them voiced; since it */
    uint32_t unvoiced;               /* frames since a voice sounded */
    double power, since;             /* sums: to the last frame that sounds, since it */
    double loud, noise;              /* power: the loudest frame, falling slowly; the faintest, rising slowly */
} Phrases;

/* The next frame. level: the voice's, dB; UNITS_DB_FLOOR while it is not known: then 6 dB under the loudest frame of
 * the last seconds stands for it. True: a phrase of 0.2 s or more with 0.1 s of voice or more is over (one of 15 s or
 * more is taken in pieces), and *db is its level. */
bool phrases_hear(Phrases *p, const HearingFrame *frame, double level, double *db);

#endif
