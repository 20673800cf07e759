/* The rests of a take: stretches of 0.22 s or more in which no voice sounds (a consonant is shorter).
 * Finds levels of what is left in them, and windows in which to look for hum. */
#ifndef LINCTUS_RESTS_H
#define LINCTUS_RESTS_H

#include "hearing.h"

enum { REST_FRAMES = 17 };

/* Zero it to reset. */
typedef struct {
    uint32_t length;   /* frames since a voice sounded; digital silence tells nothing of the room and is not counted */
    uint32_t unbroken; /* frames since a voice sounded or digital silence came: a hum goes on across neither */
    double power[REST_FRAMES];
} Rests;

typedef struct {
    bool block;      /* a block of 80 ms is found, 50 ms or more after a voice and 90 ms or more before the next: */
    double block_db; /* its level */
    bool window;     /* a window of HUM_SECONDS ends here, 30 ms or more after the voice */
} RestFound;

/* The next frame. */
RestFound rests_hear(Rests *r, const HearingFrame *frame);

#endif
