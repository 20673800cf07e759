/* Whether a take is of two levels, the shorter part at its beginning or end louder than the rest, as where somebody
 * talks before a song: the level that is found lies over the song's then. And whether its beginning is softer.
 *
 * Levels are the plain RMS of 400 ms every 100 ms, gated as Check's are (voice_level.h) but for the voice. From pieces
 * of 2 s that sound, the split is found that explains most of the variance of their levels. It counts where it explains
 * over half, each part has 8 s of such pieces, the shorter one is louder by 4 dB or more, and the level of all lies 1.5
 * dB or more over that of the longer one. Method and limits ours, settled on the invented singer and the tuning voices,
 * of which none by itself is of two levels. */
#ifndef LINCTUS_HARNESS_TWO_LEVELS_H
#define LINCTUS_HARNESS_TWO_LEVELS_H

#include "error.h"

#include <stddef.h>
#include <stdint.h>

/* One take. Zero it to begin with. */
typedef struct {
    uint32_t hop, at; /* samples in 100 ms; in the hop under way */
    double sum;       /* of its squares, mean of the channels */
    float *power;     /* mean squares of the hops */
    size_t hops, room;
} TwoLevels;

typedef struct {
    double at;     /* s: where one part ends and the other begins; 0: the take is of one level */
    bool before;   /* the part before that is the louder one */
    double louder; /* dB, more than 0: than the rest */
    double moved;  /* dB, likewise: by how much the level of all lies over that of the rest */
    double softer; /* s, whatever the others are: up to there no piece comes within 8 dB of the level of all; 0: that is
                      less than 8 s, or more than half of the take */
} TwoLevelsFound;

void two_levels_start(TwoLevels *l, double rate);
void two_levels_free(TwoLevels *l); /* safe on a zeroed struct, and twice */

/* false: out of memory. */
bool two_levels_hear(TwoLevels *l, const float *const *in, uint32_t channels, uint32_t n, Error *e);

TwoLevelsFound two_levels_found(const TwoLevels *l);

#endif
