/* Pops: bursts of air from a p or b that strike the microphone, nearly all of their power under 100 Hz, over within a
 * sixth of a second. This finds every burst of low sound near a voice. Whether it is a pop or part of the voice depends
 * on its level against the voice's; the caller decides that, as the voice's level is known better later. */
#ifndef LINCTUS_POPS_H
#define LINCTUS_POPS_H

#include "hearing.h"

enum { POPS_FRAMES = 128, POPS_BEFORE = 10, POPS_AFTER = 24 }; /* frames of 10 ms: kept; looked at around a burst */

/* Zero it to reset. */
typedef struct {
    double low[POPS_FRAMES];   /* power under 100 Hz, mean of each frame and the one before */
    double power[POPS_FRAMES]; /* power of each frame at all frequencies */
    bool burst[POPS_FRAMES];   /* the frame is the highest of a burst */
    bool voiced[POPS_FRAMES];  /* the frame has a pitch */
    double last;               /* power under 100 Hz of the last frame */
    uint64_t heard;            /* frames since the reset */
} Pops;

/* Takes in the next frame. true: the frame POPS_AFTER frames back was the highest of a burst, and *db is the burst's
 * level over 20 ms. */
bool pops_hear(Pops *p, const HearingFrame *frame, double *db);

/* By how much pops raise the level of the 400 ms that ended `frames` frames ago (POPS_AFTER..80), dB; 0 where these
 * hold no burst louder than the rest of them. */
double pops_raise(const Pops *p, uint32_t frames);

#endif
