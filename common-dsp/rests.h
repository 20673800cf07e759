/* The rests of a take: stretches of 0.22 s or more in which no voice sounds (a consonant is shorter). Finds levels of
 * what is left in them. And windows in which to look for a hum, whether or not a room still rings with the voice: a hum
 * stands out most in the quietest of a take. */
#ifndef LINCTUS_RESTS_H
#define LINCTUS_RESTS_H

#include "hearing.h"

enum { REST_FRAMES = 17, REST_WINDOW = 25 }; /* HUM_SECONDS */

/* Zero it to reset. */
typedef struct {
    uint32_t length; /* frames since a voice sounded; digital silence tells nothing of the room and is not counted */
    uint32_t silent; /* frames of digital silence without a break */
    double power[REST_FRAMES];

    uint32_t unbroken; /* frames since a voice sounded at full strength or digital silence came: a hum goes on across
                          neither */
    double loud;       /* power: the loudest frame, falling slowly */
    double window[REST_WINDOW];
} Rests;

typedef struct {
    bool block;       /* a block of 80 ms is found, 50 ms or more after a voice and 90 ms or more before the next: */
    double block_db;  /* its level; */
    bool first;       /* it is its rest's first */
    bool window;      /* a window of HUM_SECONDS ends here, */
    double window_db; /* of this level */
    bool silent;      /* digital silence, for a second or less so far */
} RestFound;

/* The next frame. */
RestFound rests_hear(Rests *r, const HearingFrame *frame);

#endif
