/* Hands what is learned between run() and the host's save and restore, which may come at any time, from another thread.
 *
 * No side ever waits for the other or tries again: each step is one atomic exchange. There are four copies. Two belong
 * to the host: what it restored last, and the other, for the next restore or for reading; their memory comes when they
 * are first needed, as a save or a restore may allocate. Of the remaining two run() fills one while the other holds
 * what it published last.
 *
 * - Out (run -> save): run() swaps the copy it filled for the one published before; save swaps its own for it.
 * - In (restore -> run): restore offers a copy and run() takes the offer; it may read that copy until it takes the
 * next. A restore first withdraws the last offer. Where that was still there, its copy can be written anew: run() never
 *   saw it. Where it was taken, run() has let go of the host's other copy.
 *
 * Restores are numbered, and what run() publishes carries the number of the restore that it goes on from. Until it
 * carries the number of the last one, a save gives what was restored. run() publishes only what was learned after a
 * restore, so until then a save gives exactly what was restored, whatever run() is doing. */
#ifndef LINCTUS_HANDOVER_H
#define LINCTUS_HANDOVER_H

#include "learned.h"

#include <stdatomic.h>

enum { HANDOVER_COPIES = 4 };

typedef struct {
    const LearnedSchema *schema;
    Learned copy[HANDOVER_COPIES]; /* of the host's, value is NULL until it is needed */
    /* Each a copy's index, whether the other side has yet to see it, and the number of a restore. */
    atomic_uint published, offered;

    unsigned draft, goes_on_from; /* run()'s: the copy it fills, and the number of the restore it took last */

    unsigned sent, other, restores; /* the host's: its two copies, and the number of the last restore */
    bool learned_on;                /* `other` was published after the last restore */
} Handover;

/* Nothing is known. Allocates what run() needs; false: no memory. */
bool handover_init(Handover *h, const LearnedSchema *schema);

/* Safe on a zeroed one. */
void handover_done(Handover *h);

/* ---- Audio thread ---- */

/* What a restore left, or NULL. It stays as it is until the next call. */
const Learned *handover_take(Handover *h);

/* Where to write what is learned; what is in it is old, but all of it is of one moment, dated (learned_renew()) where
 * run() wrote it. */
Learned *handover_draft(Handover *h);

/* The draft, complete now, is what the next save reads, unless a restore came that was not yet taken. */
void handover_publish(Handover *h);

/* ---- Host's thread: save and restore, never at once ---- */

/* The latest known: published since the last restore, or else restored. All counts 0 when nothing is known. It stays
 * as it is until the next call of these three. Allocates; NULL: no memory. */
const Learned *handover_read(Handover *h);

/* Where to write what is restored (whatever is in it is old); then send it, which has to follow: what was restored
 * before is given up. Allocates; NULL: no memory, and nothing has changed. */
Learned *handover_blank(Handover *h);

/* The blank, complete now, is what handover_take() finds next, and what a save reads until then. */
void handover_send(Handover *h);

#endif
