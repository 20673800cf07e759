/* Hands what is learned from run() to the host's save, and from restore to run(); the host may call from another thread
 * at any time. No side waits or retries: each step is one atomic exchange.
 *
 * There are four copies. The host has two, allocated when first needed: the one restored last, and another for the next
 * restore or for reading. run() fills the third; the fourth holds what it published last.
 *
 * - Out: run() swaps the copy it filled for the one published before. Save swaps the host's other copy for that.
 * - In: restore offers a copy, and run() may read it from taking the offer to taking the next. A restore first
 * withdraws the last offer. If it was still there, run() never saw that copy, which can be written anew. If it was
 * taken, run() has let go of the host's other copy.
 *
 * Restores are numbered, and what run() publishes carries the number of the restore it goes on from. run() publishes
 * only what was learned after a restore; until that has the number of the last restore, a save gives exactly what was
 * restored. */
#ifndef LINCTUS_HANDOVER_H
#define LINCTUS_HANDOVER_H

#include "learned.h"

#include <stdatomic.h>

enum { HANDOVER_COPIES = 4 };

typedef struct {
    const LearnedSchema *schema;
    Learned copy[HANDOVER_COPIES]; /* `value` of the host's two is NULL until they are needed */
    /* Each holds a copy's index, whether the other side has still to see it, and the number of a restore. */
    atomic_uint published, offered;

    unsigned draft, goes_on_from; /* used by run() alone: the copy it fills; number of the restore it took last */

    unsigned sent, other, restores; /* used by the host alone: its two copies; number of the last restore */
    bool learned_on;                /* `other` was published after the last restore */
} Handover;

/* Nothing is known. schema: of what is learned; it has to outlive h. Allocates what run() needs; false: no memory. */
bool handover_init(Handover *h, const LearnedSchema *schema);

/* Safe on a zeroed one. */
void handover_done(Handover *h);

/* ---- Audio thread ---- */

/* What was restored, if run() has not taken it yet; else NULL. It does not change before the next call. */
const Learned *handover_take(Handover *h);

/* Where to write what is learned. Its old content means nothing. */
Learned *handover_draft(Handover *h);

/* The draft is complete: the next save reads it, unless run() has not yet taken the last restore. */
void handover_publish(Handover *h);

/* ---- Host's thread: save and restore, never both at once ---- */

/* The latest that is known: published since the last restore, or else restored. All counts are 0 when nothing is known.
 * It does not change before the next call of one of these three. Allocates; NULL: no memory. */
const Learned *handover_read(Handover *h);

/* Where to write what is restored; its old content means nothing. handover_send() has to follow, as what was restored
 * before is given up. Allocates; NULL: no memory, and nothing has changed. */
Learned *handover_blank(Handover *h);

/* The blank is complete: handover_take() finds it next, and a save reads it until run() has published what follows. */
void handover_send(Handover *h);

#endif
