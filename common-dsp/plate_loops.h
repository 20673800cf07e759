/* The loops over a cell that most of the plate's time goes into, made twice from one source (plate_loops_kernel.h): for
 * vectors of four floats and of eight (wide.h). Both give the same bits, and so does plain C: tests/unit/test_plate.c.
 */
#ifndef LINCTUS_PLATE_LOOPS_H
#define LINCTUS_PLATE_LOOPS_H

#include "dsp.h"
#include "plate_loss.h"
#include "plate_ring.h"
#include "wide.h"

enum { PLATE_HALF = 8 }; /* lines that are worked on together */

/* What goes once around: the ring's slots, where in them each line's sound is due and its next cell goes, the two cells
 * that are fed, and what each line gets of them: PLATE_FEEDS. */
typedef struct {
    float *slot;
    const uint32_t *late, *next;
    const float *fed[2];
    const uint32_t *feed;
} PlateRound;

/* The first cell, the first with a minus, the second, the second with a minus: that many cells into what is fed. */
enum { PLATE_FEEDS = 4 };

/* Where something goes in a straight line over the cell, `from` and `goal` are its ends; both the same: it rests. */
typedef struct {
    /* All lines through their losses, mixed by Hadamard's matrix of sixteen, and what is fed added. from, goal, state:
     * of groups of four. Returns the or-ed bits of all that is stored. */
    uint32_t (*circulate)(const PlateRound *round, const PlateLoss *from, const PlateLoss *goal, PlateLossState *state);

    /* The sum of so many runs, times a gain each, and of `more` (NULL: nothing). run: slots where they begin. */
    void (*taps)(const float *slot, const uint32_t *run, const float *from, const float *goal, uint32_t taps,
                 const float *more, float *sum);

    /* Four losses side by side, each of a row of its own. */
    void (*shades)(const PlateLoss *from, const PlateLoss *goal, PlateLossState *state, float in[FOUR][DSP_CELL],
                   float *const out[FOUR]);

    /* A chain (plate_chain.h). next, late: slots of each step's next cell, and of what is due of it. */
    void (*echoes)(const PlateRing *ring, const uint32_t *next, const uint32_t *late, const float *from,
                   const float *goal, const float *const in[2], float *const out[2]);

    /* out = gain in. Returns the or-ed bits of all that comes out. */
    uint32_t (*amplify)(const float *in, float from, float goal, float *out);

    /* The two rows, each times its own gain and the other times the other. from, goal: own, other. */
    void (*blend)(const float from[2], const float goal[2], float in[2][DSP_CELL], float out[2][DSP_CELL]);
} PlateLoops;

extern const PlateLoops plate_loops_four;

/* Where WIDE_AVX2; to be used where wide_avx2(). */
extern const PlateLoops plate_loops_avx2;

/* As wide as the machine's vectors are. */
static inline const PlateLoops *plate_loops(void)
{
    return wide_avx2() ? &plate_loops_avx2 : &plate_loops_four;
}

#endif
