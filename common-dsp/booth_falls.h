/* Falls: how a room decays in one band, and how much late sound it adds, from the ends of words. Fed with the band's
 * power in each frame of a short-time spectrum (stft.h).
 *
 * Decay time: where a word ends and nothing follows, the level falls freely. A fall goes from a top to where the level
 * rises by 4 dB or lies still on the noise for 0.2 s. A straight line (fall_line.h) is fitted to its last 9 to 25 dB,
 * less the noise, between 15 dB under the top, above which the voice itself is still stopping, and 6 dB over the noise.
 * Blind estimates from free decays are due to R. Ratnam et al., JASA 114(5), 2003, from memory; the rules are this
 * project's own, and near those of decay.h, which Check uses on one band of its own.
 *
 * Late sound: once the level lies 15 dB under the top and the lag has passed, nothing else sounds. The figure is the
 * one with which the model of booth_late.h gives the level found there from all that was heard before. */
#ifndef LINCTUS_BOOTH_FALLS_H
#define LINCTUS_BOOTH_FALLS_H

#include <stdbool.h>
#include <stdint.h>

enum { BOOTH_HEARD = 512 }; /* frames kept: 4 s or more */

typedef struct {
    double frame;             /* s from one frame to the next */
    uint32_t lag;             /* frames after which a sound is late */
    float power[BOOTH_HEARD]; /* mean squares, a ring */
    uint64_t heard, began;    /* frames heard; how many of them before the last reset or silence */
    double floor_db;          /* the noise: the lowest level, rising slowly */
    double top_db, low_db;
    uint64_t top, low;             /* frame numbers of these two */
    uint64_t stopped, first, last; /* of the last fall: frame in which the voice was over; frames that were fitted */
    double top_was;                /* dB: its top */
} BoothFalls;

/* frame: s, the hop; late_after: s after which a sound is late. Reset: nothing was heard, but a search goes on. */
void booth_falls_init(BoothFalls *f, double frame, double late_after);
void booth_falls_reset(BoothFalls *f);

/* The next frame. power: its mean square in the band. true: a fall is over, and *seconds is its decay time, 0..8 s. */
bool booth_falls_hear(BoothFalls *f, double power, double *seconds);

/* The search for late over early energy by one fall, in steps. It reads the frames heard, so it has to be over within
 * BOOTH_SEARCH_FRAMES more of them. */
typedef struct {
    uint32_t left;         /* steps to go; 0: there is no search */
    uint64_t first;        /* first frame that the model looks back to */
    uint64_t stopped, end; /* frame from which nothing counts as early; the one after that whose level is to be met */
    double wanted, keep;   /* mean square there; share of late sound that is left a frame later */
    double low, high;      /* late over early energy lies between these */
} BoothSearch;

enum {
    BOOTH_SEARCH_STEPS = 9, /* halvings of the 40 dB between the limits: to within 0.04 dB */
    BOOTH_SEARCH_FRAMES = 5
};

/* Begins with the fall that booth_falls_hear() has just given, in a room with a decay time of `seconds`. false: that
 * fall was too short to tell. */
bool booth_search_begin(BoothSearch *s, const BoothFalls *f, double seconds);

/* One step, while s->left. true: it was the last, and *late is late over early energy. */
bool booth_search_step(BoothSearch *s, const BoothFalls *f, double *late);

/* Share of a sound's power that is left a frame later in a room with a decay time of `seconds`, over 0. frame: s. */
double booth_keep(double frame, double seconds);

#endif
