#include "handover.h"

#include <string.h>

enum { HANDOVER_FRESH = 4, HANDOVER_INDEX = 3 };
enum { IN_EMPTY, IN_WRITING, IN_FULL, IN_TAKEN };

void handover_init(Handover *h)
{
    memset(h, 0, sizeof *h);
    h->writer = 0;
    h->reader = 1;
    atomic_init(&h->middle, 2U);
    atomic_init(&h->in_state, IN_EMPTY);
}

Learned *handover_draft(Handover *h)
{
    return &h->out[h->writer];
}

void handover_publish(Handover *h)
{
    h->writer = atomic_exchange_explicit(&h->middle, h->writer | HANDOVER_FRESH, memory_order_acq_rel) & HANDOVER_INDEX;
}

const Learned *handover_take(Handover *h)
{
    int full = IN_FULL;
    return atomic_compare_exchange_strong_explicit(&h->in_state, &full, IN_TAKEN, memory_order_acquire,
                                                   memory_order_relaxed)
               ? &h->in
               : NULL;
}

void handover_taken(Handover *h)
{
    atomic_store_explicit(&h->in_state, IN_EMPTY, memory_order_release);
}

/* Adds the fields that are there. */
static void merge(const LearnedSchema *schema, Learned *to, const Learned *from)
{
    for (uint32_t f = 0; f < schema->fields; ++f) {
        if (!from->count[f])
            continue;
        const uint32_t at = learned_at(schema, f);
        to->count[f] = from->count[f];
        memcpy(to->value + at, from->value + at, from->count[f] * sizeof *to->value);
    }
}

void handover_read(Handover *h, const LearnedSchema *schema, Learned *to)
{
    if (atomic_load_explicit(&h->middle, memory_order_relaxed) & HANDOVER_FRESH)
        h->reader = atomic_exchange_explicit(&h->middle, h->reader, memory_order_acq_rel) & HANDOVER_INDEX;
    memset(to->count, 0, sizeof to->count);
    merge(schema, to, &h->out[h->reader]);
    /* run() may take it while it is read: that only reads, and only restore writes. */
    const int state = atomic_load_explicit(&h->in_state, memory_order_acquire);
    if (state == IN_FULL || state == IN_TAKEN)
        merge(schema, to, &h->in);
}

void handover_send(Handover *h, const LearnedSchema *schema, const Learned *from)
{
    for (;;) {
        int state = IN_FULL;
        if (atomic_compare_exchange_strong_explicit(&h->in_state, &state, IN_WRITING, memory_order_acquire,
                                                    memory_order_acquire))
            break;
        if (state == IN_EMPTY) {
            memset(h->in.count, 0, sizeof h->in.count);
            atomic_store_explicit(&h->in_state, IN_WRITING, memory_order_relaxed);
            break;
        }
        /* IN_TAKEN: run() is copying it out, a matter of microseconds. */
    }
    merge(schema, &h->in, from);
    atomic_store_explicit(&h->in_state, IN_FULL, memory_order_release);
}
