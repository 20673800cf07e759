/* A small bare room: eight early echoes and a tail whose energy falls by 60 dB in a given time up to 1 kHz, in
 * half of it at 8 kHz (a feedback delay network, losses as in Jot & Chaigne 1991). */
#ifndef LINCTUS_SINGER_ROOM_H
#define LINCTUS_SINGER_ROOM_H

#include <stdbool.h>
#include <stddef.h>

/* Adds the room's answer to `dry` to `out`. `db`: energy of the answer to an impulse, over the impulse's. false: no
 * memory. `dry` and `out` differ. */
bool room_add(double rate, double t60, double db, const float *dry, float *out, size_t n);

#endif
