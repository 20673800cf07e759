#include "handover.h"

#include <string.h>

_Static_assert(ATOMIC_INT_LOCK_FREE == 2, "run() must not lock");

/* Bits of the word that both sides exchange: a copy's index; FRESH, until the other side has it; a restore's number. */
enum { INDEX = 3, FRESH = 4, NUMBER = 8 };

static unsigned word_of(unsigned index, unsigned number)
{
    return number * NUMBER | FRESH | index;
}

static unsigned number_of(unsigned word)
{
    return word / NUMBER;
}

bool handover_init(Handover *h, const LearnedSchema *schema)
{
    enum { DRAFT, PUBLISHED, SENT, OTHER };
    memset(h, 0, sizeof *h);
    h->schema = schema;
    h->draft = DRAFT;
    atomic_init(&h->published, PUBLISHED);
    h->sent = SENT;
    h->other = OTHER;
    atomic_init(&h->offered, SENT);
    return learned_init(&h->copy[DRAFT], schema) && learned_init(&h->copy[PUBLISHED], schema);
}

void handover_done(Handover *h)
{
    for (unsigned i = 0; i < HANDOVER_COPIES; ++i)
        learned_done(&h->copy[i]);
}

/* ---- Audio thread ---- */

/* Takes FRESH out of the word. If the word returned has FRESH, its copy is the caller's; else the other side has it. */
static unsigned claim(atomic_uint *word)
{
    return atomic_fetch_and_explicit(word, ~(unsigned)FRESH, memory_order_acq_rel);
}

const Learned *handover_take(Handover *h)
{
    if (!(atomic_load_explicit(&h->offered, memory_order_relaxed) & FRESH))
        return NULL;
    const unsigned offer = claim(&h->offered);
    if (!(offer & FRESH))
        return NULL; /* a restore has just withdrawn it and will send another */
    h->goes_on_from = number_of(offer);
    return &h->copy[offer & INDEX];
}

Learned *handover_draft(Handover *h)
{
    return &h->copy[h->draft];
}

void handover_publish(Handover *h)
{
    const unsigned word = word_of(h->draft, h->goes_on_from);
    h->draft = atomic_exchange_explicit(&h->published, word, memory_order_acq_rel) & INDEX;
}

/* ---- Host's thread ---- */

static bool is_there(Handover *h, unsigned index)
{
    return h->copy[index].value || learned_init(&h->copy[index], h->schema);
}

/* A copy with the last restore's number was published after run() took that restore, so `other` is free to swap. */
const Learned *handover_read(Handover *h)
{
    const unsigned word = atomic_load_explicit(&h->published, memory_order_acquire);
    if (word & FRESH && number_of(word) == h->restores) {
        if (!is_there(h, h->other))
            return NULL;
        h->other = atomic_exchange_explicit(&h->published, h->other, memory_order_acq_rel) & INDEX;
        h->learned_on = true;
    }
    return &h->copy[h->learned_on ? h->other : h->sent];
}

/* A withdrawn copy was sent before, so its memory is there. */
Learned *handover_blank(Handover *h)
{
    if (!is_there(h, h->other))
        return NULL;
    const bool taken = !(claim(&h->offered) & FRESH);
    if (taken) {
        const unsigned last = h->sent;
        h->sent = h->other;
        h->other = last;
    }
    h->learned_on = false;
    return &h->copy[h->sent];
}

void handover_send(Handover *h)
{
    h->restores = number_of(word_of(0, h->restores + 1)); /* wraps to 0 after 5e8 restores */
    atomic_store_explicit(&h->offered, word_of(h->sent, h->restores), memory_order_release);
}
