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

static inline Four four_add(Four a, Four b)
{
    return a + b;
}

static inline Four four_sub(Four a, Four b)
{
    return a - b;
}

static inline Four four_mul(Four a, Four b)
{
    return a * b;
}

static inline Four four_all(float x)
{
    return (Four){x, x, x, x};
}

/* lane: 0..3. */
static inline float four_lane(Four x, int lane)
{
    return x[lane];
}

/* `bits` or-ed with the bits of x, lane by lane. */
static inline FourBits four_gather(FourBits bits, Four x)
{
    return bits | (FourBits)x;
}

#if defined __clang__ || __GNUC__ >= 12
#define FOUR_PICK(a, b, i, j, k, l) __builtin_shufflevector(a, b, i, j, k, l)
#else
#define FOUR_PICK(a, b, i, j, k, l) __builtin_shuffle(a, b, (FourBits){i, j, k, l})
#endif

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

#else

typedef struct {
    float lane[FOUR];
} Four;
typedef struct {
    uint32_t lane[FOUR];
} FourBits;

static inline Four four_add(Four a, Four b)
{
    for (int i = 0; i < FOUR; ++i)
        a.lane[i] += b.lane[i];
    return a;
}

static inline Four four_sub(Four a, Four b)
{
    for (int i = 0; i < FOUR; ++i)
        a.lane[i] -= b.lane[i];
    return a;
}

static inline Four four_mul(Four a, Four b)
{
    for (int i = 0; i < FOUR; ++i)
        a.lane[i] *= b.lane[i];
    return a;
}

static inline Four four_all(float x)
{
    return (Four){{x, x, x, x}};
}

static inline float four_lane(Four x, int lane)
{
    return x.lane[lane];
}

static inline FourBits four_gather(FourBits bits, Four x)
{
    FourBits of;
    memcpy(&of, &x, sizeof of);
    for (int i = 0; i < FOUR; ++i)
        bits.lane[i] |= of.lane[i];
    return bits;
}

static inline void four_turn(Four *x)
{
    for (int i = 0; i < FOUR; ++i)
        for (int j = 0; j < i; ++j) {
            const float held = x[i].lane[j];
            x[i].lane[j] = x[j].lane[i];
            x[j].lane[i] = held;
        }
}

static inline Four four_backwards(Four x)
{
    return (Four){{x.lane[3], x.lane[2], x.lane[1], x.lane[0]}};
}

static inline Four four_evens(Four a, Four b)
{
    return (Four){{a.lane[0], a.lane[2], b.lane[0], b.lane[2]}};
}

static inline Four four_odds(Four a, Four b)
{
    return (Four){{a.lane[1], a.lane[3], b.lane[1], b.lane[3]}};
}

static inline Four four_mix_first(Four evens, Four odds)
{
    return (Four){{evens.lane[0], odds.lane[0], evens.lane[1], odds.lane[1]}};
}

static inline Four four_mix_last(Four evens, Four odds)
{
    return (Four){{evens.lane[2], odds.lane[2], evens.lane[3], odds.lane[3]}};
}

#endif

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
