/* Ticks that were worked out and wait to be taken out of the delayed sound. A part of ticks.c. */
#ifndef LINCTUS_TICKS_GOING_H
#define LINCTUS_TICKS_GOING_H

#include "ticks.h"

/* Sends off the tick that was worked out, turned down as far as the controls say. */
void ticks_send(Ticks *t);

/* Whether any of them touches the n samples from number `from` on. */
bool ticks_are_going(const Ticks *t, int64_t from, uint32_t n);

/* gone: the sum of the ticks in those samples. false: there are none, and it is 0. */
bool ticks_gather(const Ticks *t, int64_t from, float gone[][DSP_CELL], uint32_t n);

#endif
