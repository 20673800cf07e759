/* What Tone hears: notes for the finder of resonances, the spectrum of the voice's loudness, and whether a watched
 * dip's band builds up. A part of tone.c. */
#ifndef LINCTUS_TONE_LISTENING_H
#define LINCTUS_TONE_LISTENING_H

#include "tone.h"

/* Forgets the sound heard so far, not what was learned from it. */
void tone_hear_nothing(Tone *t);

/* Makes the finder start: it may not have finished with what is remembered, and a repeat would bring no new piece. */
void tone_look_anew(Tone *t);

/* Starts learning afresh. */
void tone_learn_afresh(Tone *t);

/* At a grid point: takes in the cell that has passed, if it was listened to, and works on the finder. */
void tone_listening_tick(Tone *t);

/* Listens to n samples that lie within one cell: to the mean of the channels; a living one stands in for a dead one
 * (living.h). */
void tone_listen(Tone *t, const float *const *in, uint32_t n);

#endif
