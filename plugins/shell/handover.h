/* Hands what is learned between run() and the host's save and restore, which may come at any time, from another thread.
 *
 * No side ever waits for the audio thread's work to be done, and the audio thread never waits at all.
 * Out (run -> save): three copies; the writer fills its own and swaps it with the middle one, the reader swaps for it.
 * In (restore -> run): one copy with a state that says whose it is. */
#ifndef LINCTUS_HANDOVER_H
#define LINCTUS_HANDOVER_H

#include "learned.h"

#include <stdatomic.h>

typedef struct {
    Learned out[3];
    atomic_uint middle; /* index into out, plus HANDOVER_FRESH when the reader has not seen it */
    unsigned writer, reader;

    Learned in;
    atomic_int in_state;
} Handover;

void handover_init(Handover *h);

/* ---- Audio thread ---- */

/* Where to write what is learned; then publish it. */
Learned *handover_draft(Handover *h);
void handover_publish(Handover *h);

/* What a restore left, or NULL; call handover_taken() when it is applied and published. */
const Learned *handover_take(Handover *h);
void handover_taken(Handover *h);

/* ---- Host's thread: save and restore, never at once ---- */

/* The latest known: restored and not yet taken, or else published. All counts 0 when nothing is known. */
void handover_read(Handover *h, const LearnedSchema *schema, Learned *to);

/* Fields that are there (count above 0) go on their way to run(); they join those still waiting. */
void handover_send(Handover *h, const LearnedSchema *schema, const Learned *from);

#endif
