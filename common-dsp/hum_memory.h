/* What Hum has learned: the levels that tell whether a hum is there (mains.h), and how this hum is made up, that is how
 * strong each harmonic is and where it stands against the others (hum_follower.h). */
#ifndef LINCTUS_HUM_MEMORY_H
#define LINCTUS_HUM_MEMORY_H

#include "hum_follower.h"
#include "learned.h"
#include "mains.h"
#include "rests.h"

enum { HUM_MEMORY_ROW = 4, HUM_MEMORY_SHAPE = 2 * FOLLOWER_HARMONICS * DSP_CHANNELS };

typedef struct {
    Tally voice; /* levels of the blocks of voice (voice_level.h) */
    Tally rests, family[HUM_FAMILIES];
    uint32_t row[HUM_MEMORY_ROW]; /* quietest window (mains_window()); frames of digital silence; the make-up's
                                     family: 50, 60, 0: none yet; its level */
    uint32_t
        shape[HUM_MEMORY_SHAPE]; /* cos and sin of each harmonic and channel, by the hum's level when it was noted */
} HumMemory;

/* How it is stored. */
extern const LearnedSchema hum_schema;

/* The next frame, with what it tells of rests. true: a window is to be looked at. */
bool hum_memory_hear(HumMemory *m, const HearingFrame *frame, const RestFound *rest);

/* A window's levels, family by family. */
void hum_memory_window(HumMemory *m, const double db[HUM_FAMILIES]);

/* hz: 50 or 60: that family alone is asked for; 0: either. rests: the level of the rests, dB. */
MainsFound hum_memory_found(const HumMemory *m, double hz, double *rests);

/* Of that, where none is found yet: the family that may be. */
MainsFound hum_memory_suspected(const HumMemory *m, double hz);

/* Notes how the hum is made up, of a hum of `level` dB of a family; returns it, false: none noted of that family. */
void hum_memory_note(HumMemory *m, const FollowerShape *shape, double hz, double level);
bool hum_memory_shape(const HumMemory *m, double hz, FollowerShape *shape);

#endif
