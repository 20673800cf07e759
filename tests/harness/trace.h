/* How the ports of a plug-in moved while audio went through it: for a report, which draws them along the take. */
#ifndef LINCTUS_HARNESS_TRACE_H
#define LINCTUS_HARNESS_TRACE_H

#include "host.h"

typedef struct {
    double at; /* seconds of audio that had gone in */
    uint32_t port;
    float value;
} TraceMove;

/* Every change of the meters that a report draws: when each fault was last heard ("..._at"), and what the plug-ins of
 * the chain do at the moment. Zero it, then call trace_start(). */
typedef struct {
    const Plugin *plugin; /* NULL: nothing was looked at */
    double rate;
    uint64_t frames;
    float *last; /* one a port */
    TraceMove *move;
    size_t moves, room;
    bool failed; /* out of memory: it ends early */
} Trace;

void trace_start(Trace *t, double rate);
void trace_free(Trace *t); /* safe on a zeroed struct, and twice */

/* Looks at an instance, always the same, after a run of n frames. t NULL: does nothing. */
void trace_take(Trace *t, const Instance *i, uint32_t n);

#endif
