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

static inline Two two_of(double a, double b)
{
    return (Two){a, b};
}

static inline Two two_add(Two a, Two b)
{
    return a + b;
}

static inline Two two_sub(Two a, Two b)
{
    return a - b;
}

static inline Two two_mul(Two a, Two b)
{
    return a * b;
}

/* lane: 0 or 1. */
static inline double two_lane(Two x, int lane)
{
    return x[lane];
}

static inline Two two_put(Two x, int lane, double value)
{
    x[lane] = value;
    return x;
}

#else

typedef struct {
    double lane[2];
} Two;

static inline Two two_of(double a, double b)
{
    return (Two){{a, b}};
}

static inline Two two_add(Two a, Two b)
{
    return two_of(a.lane[0] + b.lane[0], a.lane[1] + b.lane[1]);
}

static inline Two two_sub(Two a, Two b)
{
    return two_of(a.lane[0] - b.lane[0], a.lane[1] - b.lane[1]);
}

static inline Two two_mul(Two a, Two b)
{
    return two_of(a.lane[0] * b.lane[0], a.lane[1] * b.lane[1]);
}

static inline double two_lane(Two x, int lane)
{
    return x.lane[lane];
}

static inline Two two_put(Two x, int lane, double value)
{
    x.lane[lane] = value;
    return x;
}

#endif

#endif
