/* Repairs: plug-ins for what was not right at the source. They go before the chain, in one order. */
#ifndef LINCTUS_HARNESS_REPAIR_H
#define LINCTUS_HARNESS_REPAIR_H

#include "plan.h"

typedef struct {
    const char *plugin; /* its stem */
    const char *fault;  /* Check's yes or no that asks for it */
    const char *helps;  /* what it would do, with figures of Check's (fill.h) */
} Repair;

/* In the order of the chain. What is steady goes first, so that nothing after it hears it: hum. Then what is short, as
 * the spectra of what follows would smear it: pops, ticks. Then what lies under the whole take: noise, room. Rests come
 * after these, which leave them quieter, and phrases last, over what is left. */
enum { REPAIRS = 7 };
extern const Repair repairs[REPAIRS];

/* The repair that asks for this plug-in, in any letter case; NULL: it is none. */
const Repair *repair_named(const char *plugin);

/* Does Check ask for it, and is there such a plug-in? */
bool repair_asked(const Repair *r, const Plan *p, const Readings *check);

#endif
