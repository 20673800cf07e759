/* The rests of a take: stretches of 0.22 s or more in which no voice sounds (a consonant is shorter). Finds the levels
 * of the noise in them, and windows in which to look for a hum, even where the room still rings with the voice: a hum
 * stands out most in the quietest parts of a take. */
#ifndef LINCTUS_RESTS_H
#define LINCTUS_RESTS_H

#include "hearing.h"

enum { REST_FRAMES = 17, REST_WINDOW = 25 }; /* frames of 10 ms that are kept; of a window, HUM_SECONDS */

/* Zero it to reset. */
typedef struct {
    uint32_t length; /* frames since a voice sounded, without digital silence, which says nothing of the room */
    uint32_t silent; /* frames of digital silence in a row */
    double power[REST_FRAMES];

    uint32_t unbroken; /* frames since a voice sounded at full strength or digital silence came, neither of which a
                          window may contain */
    double loud;       /* power: the loudest frame, falling slowly */
    double window[REST_WINDOW];
} Rests;

typedef struct {
    bool block;       /* a block of 80 ms was found, 50 ms or more after a voice and 90 ms or more before the next */
    double block_db;  /* its level */
    bool first;       /* it is the first block of its rest */
    bool window;      /* a window of HUM_SECONDS ends here */
    double window_db; /* its level */
    bool silent;      /* digital silence that has lasted for a second or less */
} RestFound;

/* Takes in the next frame of 10 ms. Levels in what it returns are dB, valid only where their flag is true. */
RestFound rests_hear(Rests *r, const HearingFrame *frame);

#endif
