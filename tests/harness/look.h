/* What a report needs to know of a take besides what the table tells: how it and its mix run along the time. */
#ifndef LINCTUS_HARNESS_LOOK_H
#define LINCTUS_HARNESS_LOOK_H

#include "audition.h"
#include "listen.h"
#include "spool.h"
#include "survey.h"
#include "trace.h"

enum { LOOK_BEFORE, LOOK_AFTER, LOOK_SIDES };

/* One take. Zero it to begin with. */
typedef struct {
    Spool *mix;      /* a copy of what the chain made of it */
    Trace *stage;    /* one a stage: what its ports showed while it mixed */
    uint32_t stages; /* of them */
    Trace check;     /* what Check's ports showed while it heard the take once more, knowing all of it, so that each
                        fault is judged as the verdict judges it */
    double began;    /* s: what Check counts the times of that hearing from */
    Lesson mixed;    /* what Check heard in the mix */
    Survey side[LOOK_SIDES];
    AuditionGains gains;
    int audio[LOOK_SIDES]; /* handles to what the players play, where that goes into the page; else 0 */
} Look;

void look_free(Look *l); /* safe on a zeroed struct, and twice */

#endif
