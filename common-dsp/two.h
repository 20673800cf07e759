/* Two doubles side by side: as four.h, for what needs the precision. gcc and clang turn them into vector instructions
 * where the machine has some. Any other compiler, or TWO_PLAIN, gets plain C with the same arithmetic in the same
 * order, and so the same bits (tests/unit/test_two.c).
 *
 * Lanes are numbered as in memory, 0 the first. */
#ifndef LINCTUS_TWO_H
#define LINCTUS_TWO_H

#include "inlined.h"

#if defined __GNUC__ && !defined TWO_PLAIN

typedef double Two __attribute__((vector_size(16)));

#define TWO_OF(a, b)        ((Two){a, b})
#define TWO_LANE(x, i)      ((x)[i])
#define TWO_EACH(a, set, b) ((a)set(b)) /* set: an operator such as +=, lane by lane */

#else

typedef struct {
    double lane[2];
} Two;

#define TWO_OF(a, b)        ((Two){{a, b}})
#define TWO_LANE(x, i)      ((x).lane[i])
#define TWO_EACH(a, set, b) ((a).lane[0] set(b).lane[0], (a).lane[1] set(b).lane[1])

#endif

static inline Two two_of(double a, double b)
{
    return TWO_OF(a, b);
}

static inline Two two_add(Two a, Two b)
{
    TWO_EACH(a, +=, b);
    return a;
}

static inline Two two_sub(Two a, Two b)
{
    TWO_EACH(a, -=, b);
    return a;
}

static inline Two two_mul(Two a, Two b)
{
    TWO_EACH(a, *=, b);
    return a;
}

/* lane: 0 or 1. */
static inline double two_lane(Two x, int lane)
{
    return TWO_LANE(x, lane);
}

static inline Two two_put(Two x, int lane, double value)
{
    TWO_LANE(x, lane) = value;
    return x;
}

#endif
