/* Phrases: what is sung between two rests of 0.3 s or more, and how loud each is: plain RMS of the frames in which the
 * voice sounds. */
#ifndef LINCTUS_PHRASES_H
#define LINCTUS_PHRASES_H

#include "hearing.h"

/* Zero it to reset. */
typedef struct {
    uint32_t sounding, silent; /* frames of voice in the phrase; frames since the last of them */
    double power;              /* their sum */
} Phrases;

/* The next frame; true: a phrase of 0.4 s of voice or more is over (one of 15 s or more is taken in pieces), and *db is
 * its level. */
bool phrases_hear(Phrases *p, const HearingFrame *frame, double *db);

#endif
