/* Whether a take has a mains hum, of which family, and how loud, from what its rests held (rests.h, hum.h). The windows
 * searched for hum are counted by its level, in a tally for each family. There is a hum where enough windows agree, it
 * is no louder than the rests, and it lies less than 60 dB under the voice: nobody hears a fainter one, and chance
 * finds some. Method ours. */
#ifndef LINCTUS_MAINS_H
#define LINCTUS_MAINS_H

#include "hum.h"
#include "tally.h"

#define MAINS_REST_UNDER 6.0 /* dB under the voice: a louder block is not a rest but an undetected voice; chosen */

enum { MAINS_BINS = 280 }; /* of 0.5 dB: up to 0 dB */

/* Scale of the tallies of hum levels and of levels of rests: dB in bins of 0.5 dB. */
#define MAINS_SCALE                                                                                                    \
    {                                                                                                                  \
        -140.0, 0.5, MAINS_BINS                                                                                        \
    }
/* The same as a value. */
extern const TallyScale mains_scale;

typedef struct {
    const Tally *family[HUM_FAMILIES]; /* levels of the family's hum, a window each; UNITS_DB_FLOOR where it did not
                                          stand out; NULL: not asked for */
    const Tally *rests;                /* levels of the blocks of rests */
    uint32_t silent;                   /* frames of digital silence: many mean that rests were cut out of the take, and
                                          that nothing can be concluded from what is left of them */
    double voice;                      /* the voice's level, dB; UNITS_DB_FLOOR: not known */
} MainsHeard;

typedef struct {
    double hz;    /* 50 or 60; 0: no hum */
    double level; /* dB; UNITS_DB_FLOOR: no hum */
} MainsFound;

/* The hum of the take. Where both families stand out, the steadier one. */
MainsFound mains_found(const MainsHeard *h);

/* The family that stood out in most windows, which mains_found() may find later; hz 0: none did. */
MainsFound mains_suspected(const MainsHeard *h);

/* The median level of the rests, dB; HUGE_VAL: there are none. */
double mains_rests(const MainsHeard *h);

/* Whether a window of level db is worth looking at: it is not much louder than the quietest so far. *quiet: the level
 * of that one, in a form that only this function reads; 0 at first. A window much quieter than any before empties both
 * tallies, as the windows in them were not rests. */
bool mains_window(uint32_t *quiet, Tally *fifty, Tally *sixty, double db);

#endif
