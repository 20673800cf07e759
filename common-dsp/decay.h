/* Decay: a room's decay time (T60), from the ends of notes, where the level falls freely. Which falls count, how much
 * each of them counts, and the source: decay.md. */
#ifndef LINCTUS_DECAY_H
#define LINCTUS_DECAY_H

#include "hearing.h"

enum {
    DECAY_FRAMES = 512, /* frames of 10 ms that are kept */
    DECAY_SMOOTH = 5,   /* frames that a level is the mean of */
    DECAY_TIMES = 64,   /* most times that a fall counts */
};

/* Zero it to reset. */
typedef struct {
    float power[DECAY_FRAMES]; /* of the room band, a ring */
    uint64_t heard;            /* frames since the reset or the last silence */
    double floor_db;           /* the noise: the lowest level, rising slowly */
    double top_db, low_db;     /* highest and lowest level of the fall under way */
    uint64_t top, low;         /* frame numbers of these two */
    bool voiced;               /* the top is voiced */
} Decay;

#define DECAY_SHARE 0.4 /* share of all counted times that lie under the room's decay time (decay.md) */

typedef struct {
    double t60;     /* s, 0..8 */
    uint32_t times; /* how often it counts, 1..DECAY_TIMES; 0: there is none */
} DecayFound;

/* Hears the next frame. Returns the decay time of the fall that ends with it, if one does and it counts. */
DecayFound decay_hear(Decay *d, const HearingFrame *frame);

#endif
