/* The rests of a take: stretches in which no voice sounds. Finds levels of what is left in them, and windows in which
 * to look for hum. */
#ifndef LINCTUS_RESTS_H
#define LINCTUS_RESTS_H

#include "hearing.h"

enum { REST_BLOCK = 10 }; /* frames of a block of noise */

/* Zero it to reset. */
typedef struct {
    uint32_t
        length; /* frames since a voice sounded, or damage or digital silence came: neither tells of the recording */
    double power[REST_BLOCK];
} Rests;

typedef struct {
    bool block;      /* a block of 100 ms ends here, 60 ms or more after the voice: */
    double block_db; /* its level */
    bool window;     /* a window of HUM_SECONDS ends here, 60 ms or more after the voice */
} RestFound;

/* The next frame. */
RestFound rests_hear(Rests *r, const HearingFrame *frame);

#endif
