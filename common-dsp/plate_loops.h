/* The loops over a cell that most of the plate's time goes into, made twice from one source (plate_loops_kernel.h): for
 * vectors of four floats and of eight (wide.h). Both give the same bits, and so does plain C: tests/unit/test_plate.c.
 */
#ifndef LINCTUS_PLATE_LOOPS_H
#define LINCTUS_PLATE_LOOPS_H

#include "dsp.h"
#include "plate_loss.h"
#include "wide.h"

enum { PLATE_HALF = 8 }; /* lines that are worked on together */

/* Where something goes in a straight line over the cell, `from` and `goal` are its ends; both the same: it rests. */
typedef struct {
    /* All lines through their losses, and each half of them mixed among themselves by Hadamard's matrix of eight. run:
     * of each line; from, goal, state: of groups of four. */
    void (*lose)(const float *const run[2 * PLATE_HALF], const PlateLoss *from, const PlateLoss *goal,
                 PlateLossState *state, float row[2 * PLATE_HALF][DSP_CELL]);

    /* The last stage of the mixing and what is fed, of the lines l and l + PLATE_HALF. Returns the or-ed bits of all
     * that is stored. */
    uint32_t (*store)(float row[2 * PLATE_HALF][DSP_CELL], const float *const fed[2 * PLATE_HALF],
                      float *const to[2 * PLATE_HALF]);

    /* The sum of so many runs, times a gain each. */
    void (*taps)(const float *const *run, const float *from, const float *goal, uint32_t taps, float *sum);

    /* A step of a chain: a and b become a + y late and a - y late. */
    void (*echoes)(const float *late, float from, float goal, float *a, float *b);
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
