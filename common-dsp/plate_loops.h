/* The loops over a cell that take most of the plate's time, compiled twice from one source (plate_loops_kernel.h), for
 * vectors of four floats and of eight (wide.h). Both give the same bits, and so does plain C: tests/unit/test_plate.c.
 */
#ifndef LINCTUS_PLATE_LOOPS_H
#define LINCTUS_PLATE_LOOPS_H

#include "dsp.h"
#include "plate_loss.h"
#include "plate_ring.h"
#include "wide.h"

enum { PLATE_HALF = 8 }; /* lines that are mixed together */

/* One trip of a cell around the feedback loop. */
typedef struct {
    float *slot;          /* the ring's slots */
    const uint32_t *late; /* slot of each line's delayed cell */
    const uint32_t *next; /* slot of each line's next cell */
    const float *fed[2];  /* the two input cells */
    const uint32_t *feed; /* of each line: offset in floats of its input among the PLATE_FEEDS cells */
} PlateRound;

/* Cells that a line can be fed: the first input, that negated, the second input, that negated. */
enum { PLATE_FEEDS = 4 };

/* Parameters glide over the cell in a straight line from `from` to `goal`; the same pointer twice: they rest. */
typedef struct {
    /* Runs all lines through their losses, mixes them by Hadamard's matrix of sixteen, and adds the input. from, goal,
     * state: one for each group of four lines. Returns the or-ed bits of all samples stored. */
    uint32_t (*circulate)(const PlateRound *round, const PlateLoss *from, const PlateLoss *goal, PlateLossState *state);

    /* Adds up `taps` runs, each times its gain, and `more` (NULL: nothing). run: the slots where they begin. */
    void (*taps)(const float *slot, const uint32_t *run, const float *from, const float *goal, uint32_t taps,
                 const float *more, float *sum);

    /* Runs four losses side by side, each on its own row. */
    void (*shades)(const PlateLoss *from, const PlateLoss *goal, PlateLossState *state, float in[FOUR][DSP_CELL],
                   float *const out[FOUR]);

    /* Runs a chain (plate_chain.h). next, late: slots of each step's next cell, and of its delayed one. */
    void (*echoes)(const PlateRing *ring, const uint32_t *next, const uint32_t *late, const float *from,
                   const float *goal, const float *const in[2], float *const out[2]);

    /* out = gain * in. Returns the or-ed bits of out. */
    uint32_t (*amplify)(const float *in, float from, float goal, float *out);

    /* out[c] = own * in[c] + other * in[1 - c]. from, goal: the gains own and other. */
    void (*blend)(const float from[2], const float goal[2], float in[2][DSP_CELL], float out[2][DSP_CELL]);
} PlateLoops;

extern const PlateLoops plate_loops_four;

/* Exists where WIDE_AVX2 is defined; may be used where wide_avx2() is true. */
extern const PlateLoops plate_loops_avx2;

/* The widest loops that this machine can run. */
static inline const PlateLoops *plate_loops(void)
{
    return wide_avx2() ? &plate_loops_avx2 : &plate_loops_four;
}

#endif
