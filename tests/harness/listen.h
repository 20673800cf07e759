/* A plug-in that listens to takes and learns, and whose own output goes nowhere. */
#ifndef LINCTUS_HARNESS_LISTEN_H
#define LINCTUS_HARNESS_LISTEN_H

#include "readings.h"
#include "sink.h"
#include "stage.h"
#include "trace.h"

/* What takes taught a plug-in, one after the other. Zero it to begin with. */
typedef struct {
    char *state;    /* what it has learned, as Turtle; NULL: it has listened to nothing */
    Readings heard; /* what its ports showed */
    double seconds; /* how much was played to it, silence after the takes included */
} Lesson;

void lesson_free(Lesson *l); /* safe on a zeroed struct, and twice */

/* One take's part in a lesson:
 *
 *     Listener l;
 *     listener_start(&l, &plan, channels, rate, &lesson, &e);
 *     l.sink.write(...); ... l.sink.end(...);      the lesson now holds this take too
 *     listener_free(&l);                           in any case */
typedef struct {
    Sink sink;
    Instance *i;
    Block block;
    Readings now;
    Lesson *lesson;
    uint64_t silence; /* frames, after the take */
    uint64_t frames;  /* played to it so far, those of the silence too */
    uint64_t came;    /* frames of the take */
    double rate;
    uint32_t side;      /* 1 or 2: it hears that channel on both; 0: both as they are. Set after listener_start() */
    float side_gain;    /* linear gain of that channel. Set likewise */
    double from, until; /* s of the take: it hears that part alone; until 0: to the end. Set likewise */
    Trace *trace;       /* the caller's, set after listener_start(): follows its ports. NULL: none */
} Listener;

/* A fresh instance that begins with what the lesson holds. The lesson changes only when the take ends: until then, and
 * where something fails, it stays as it was. */
bool listener_start(Listener *l, const StagePlan *plan, uint32_t channels, double rate, Lesson *lesson, Error *e);
void listener_free(Listener *l); /* safe on a zeroed struct, and twice */

#endif
