/* Four floats side by side. gcc and clang make vector instructions of them where the machine has some; any other
 * compiler, or FOUR_PLAIN defined, gets loops that do the same arithmetic in the same order. Both give the same bits
 * (-ffp-contract=off): tests/unit/test_four.c holds every function to that, tests/unit/test_plate.c the whole Plate.
 *
 * Lanes are numbered as in memory, 0 the first. */
#ifndef LINCTUS_FOUR_H
#define LINCTUS_FOUR_H

#include "inlined.h"

#include <stdint.h>
#include <string.h>

enum { FOUR = 4 };

#if defined __GNUC__ && !defined FOUR_PLAIN

typedef float Four __attribute__((vector_size(16)));
typedef uint32_t FourBits __attribute__((vector_size(16)));

#define FOUR_OF(type, ...)   ((type){__VA_ARGS__})
#define FOUR_LANE(x, i)      ((x)[i])
#define FOUR_EACH(a, set, b) ((a)set(b))            /* set: an operator such as +=, lane by lane */
#define FOUR_WHERE(a, is, b) ((FourBits)((a)is(b))) /* is: < or >; all bits of a lane 1 where it is so, else 0 */

/* Lanes of a (0..3) and of b (4..7). */
#if defined __clang__ || __GNUC__ >= 12
#define FOUR_PICK(a, b, ...) __builtin_shufflevector(a, b, __VA_ARGS__)
#else
#define FOUR_PICK(a, b, ...) __builtin_shuffle(a, b, (FourBits){__VA_ARGS__})
#endif

#else

typedef struct {
    float lane[FOUR];
} Four;
typedef struct {
    uint32_t lane[FOUR];
} FourBits;

#define FOUR_OF(type, ...) ((type){{__VA_ARGS__}})
#define FOUR_LANE(x, i)    ((x).lane[i])
#define FOUR_EACH(a, set, b)                                                                                           \
    for (int i = 0; i < FOUR; ++i)                                                                                     \
    (a).lane[i] set(b).lane[i]
#define FOUR_IS(a, is, b, i) (0u - ((a).lane[i] is(b).lane[i]))
#define FOUR_WHERE(a, is, b)                                                                                           \
    FOUR_OF(FourBits, FOUR_IS(a, is, b, 0), FOUR_IS(a, is, b, 1), FOUR_IS(a, is, b, 2), FOUR_IS(a, is, b, 3))
#define FOUR_PICK(a, b, ...) four_pick(a, b, (const int[FOUR]){__VA_ARGS__})

static inline Four four_pick(Four a, Four b, const int *from)
{
    Four picked;
    for (int i = 0; i < FOUR; ++i)
        picked.lane[i] = from[i] < FOUR ? a.lane[from[i]] : b.lane[from[i] - FOUR];
    return picked;
}

#endif

static inline Four four_add(Four a, Four b)
{
    FOUR_EACH(a, +=, b);
    return a;
}

static inline Four four_sub(Four a, Four b)
{
    FOUR_EACH(a, -=, b);
    return a;
}

static inline Four four_mul(Four a, Four b)
{
    FOUR_EACH(a, *=, b);
    return a;
}

static inline Four four_all(float x)
{
    return FOUR_OF(Four, x, x, x, x);
}

/* lane: 0..3. */
static inline float four_lane(Four x, int lane)
{
    return FOUR_LANE(x, lane);
}

/* The bits of each lane. */
static inline FourBits four_as_bits(Four x)
{
    FourBits bits;
    memcpy(&bits, &x, sizeof bits);
    return bits;
}

/* `bits` or-ed with the bits of x, lane by lane. */
static inline FourBits four_gather(FourBits bits, Four x)
{
    const FourBits more = four_as_bits(x);
    FOUR_EACH(bits, |=, more);
    return bits;
}

/* Transposes four rows of four: lane j of row i goes to lane i of row j. */
static inline void four_turn(Four *x)
{
    const Four ab = FOUR_PICK(x[0], x[1], 0, 4, 1, 5), AB = FOUR_PICK(x[0], x[1], 2, 6, 3, 7);
    const Four cd = FOUR_PICK(x[2], x[3], 0, 4, 1, 5), CD = FOUR_PICK(x[2], x[3], 2, 6, 3, 7);
    x[0] = FOUR_PICK(ab, cd, 0, 1, 4, 5);
    x[1] = FOUR_PICK(ab, cd, 2, 3, 6, 7);
    x[2] = FOUR_PICK(AB, CD, 0, 1, 4, 5);
    x[3] = FOUR_PICK(AB, CD, 2, 3, 6, 7);
}

/* Lanes 3, 2, 1, 0. */
static inline Four four_backwards(Four x)
{
    return FOUR_PICK(x, x, 3, 2, 1, 0);
}

/* Of eight floats, a then b: those with an even number, and those with an odd number. */
static inline Four four_evens(Four a, Four b)
{
    return FOUR_PICK(a, b, 0, 2, 4, 6);
}

static inline Four four_odds(Four a, Four b)
{
    return FOUR_PICK(a, b, 1, 3, 5, 7);
}

/* The reverse: interleaves evens and odds; the first four of the eight floats, and the last four. */
static inline Four four_mix_first(Four evens, Four odds)
{
    return FOUR_PICK(evens, odds, 0, 4, 1, 5);
}

static inline Four four_mix_last(Four evens, Four odds)
{
    return FOUR_PICK(evens, odds, 2, 6, 3, 7);
}

/* Four floats from x on; no alignment needed. */
static inline Four four_load(const float *x)
{
    Four v;
    memcpy(&v, x, sizeof v);
    return v;
}

static inline void four_store(float *x, Four v)
{
    memcpy(x, &v, sizeof v);
}

/* All lanes of what four_gather() collected, or-ed together. */
static inline uint32_t four_bits(FourBits bits)
{
    uint32_t lane[FOUR];
    memcpy(lane, &bits, sizeof lane);
    return lane[0] | lane[1] | lane[2] | lane[3];
}

#endif
