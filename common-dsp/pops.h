/* Pops: bursts of air from a p or b that strike the microphone, nearly all of their power under 100 Hz, over within a
 * sixth of a second. Found is any burst of low sound near a voice; whether it is a pop or the voice itself, its level
 * against the voice's tells (the caller's part, as the voice's level is known better later). */
#ifndef LINCTUS_POPS_H
#define LINCTUS_POPS_H

#include "hearing.h"

enum { POPS_FRAMES = 128, POPS_BEFORE = 10, POPS_AFTER = 24 };

/* Zero it to reset. */
typedef struct {
    double low[POPS_FRAMES];   /* mean of two frames each */
    double power[POPS_FRAMES]; /* of each frame, at all frequencies */
    bool burst[POPS_FRAMES];   /* a burst is highest there */
    bool voiced[POPS_FRAMES];
    double last;
    uint64_t heard;
} Pops;

/* The next frame; true: a burst lay POPS_AFTER frames back, and *db is its level over 20 ms. */
bool pops_hear(Pops *p, const HearingFrame *frame, double *db);

/* By how much, in dB, pops raise the level of the 400 ms that ended `frames` frames ago (POPS_AFTER..80): 0 where there
 * is no burst in them that is louder than the rest of them. */
double pops_raise(const Pops *p, uint32_t frames);

#endif
