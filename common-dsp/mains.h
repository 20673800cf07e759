/* Is there a mains hum in a take, of which family, and how loud? Answered from what its rests held (rests.h, hum.h),
 * for all who ask. Windows in which a hum is looked for are counted by its level, family by family; there is one where
 * enough of them agree, it is no louder than the rests are, and it lies less than 60 dB under the voice, as nobody
 * hears what is fainter, which chance finds now and then. Method ours. */
#ifndef LINCTUS_MAINS_H
#define LINCTUS_MAINS_H

#include "hum.h"
#include "tally.h"

#define MAINS_REST_UNDER 6.0 /* dB under the voice: a louder block is no rest, but a voice not taken for one */

enum { MAINS_BINS = 280 };

/* Of levels of hum and of blocks of rests: dB, half a dB a bin. */
#define MAINS_SCALE                                                                                                    \
    {                                                                                                                  \
        -140.0, 0.5, MAINS_BINS                                                                                        \
    }
/* The same as a value. */
extern const TallyScale mains_scale;

typedef struct {
    const Tally *family[HUM_FAMILIES]; /* levels of the windows; UNITS_DB_FLOOR where it did not stand out; NULL: not
                                          asked for */
    const Tally *rests;                /* levels of the blocks of rests */
    uint32_t silent;                   /* frames of digital silence: where there are many, rests were cut out, and what
                                          is left of them tells nothing */
    double voice;                      /* level, dB; UNITS_DB_FLOOR: not known */
} MainsHeard;

typedef struct {
    double hz;    /* 50, 60; 0: no hum */
    double level; /* dB; UNITS_DB_FLOOR: no hum */
} MainsFound;

/* Where both families stand out, it is the steadier. */
MainsFound mains_found(const MainsHeard *h);

/* The family that may yet be found: that which most windows held; hz 0: none did. */
MainsFound mains_suspected(const MainsHeard *h);

/* The middle level of the rests, dB; HUGE_VAL: there are none. */
double mains_rests(const MainsHeard *h);

/* What is said to make a window worth looking at: it is not far louder than the quietest so far. `quiet`: that one's
 * level, in a form that only this function reads, 0 at first. A far quieter one than any before empties both tallies,
 * as those were no rests. */
bool mains_window(uint32_t *quiet, Tally *fifty, Tally *sixty, double db);

#endif
