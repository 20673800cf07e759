/* Vectors of FLOATS floats, 4 or 8, for a source that is compiled once for each width (wide.h). It defines FLOATS
 * before it includes this. gcc and clang make vector instructions of them; any other compiler, or FLOATS_PLAIN defined,
 * gets loops that do the same arithmetic in the same order, with the same bits. For one width only, see four.h. */
#ifndef LINCTUS_FLOATS_H
#define LINCTUS_FLOATS_H

#include "four.h"
#include "inlined.h"

#include <stddef.h>
#include <stdint.h>
#include <string.h>

#if FLOATS != 4 && FLOATS != 8
#error "FLOATS has to be 4 or 8"
#endif

#if defined __GNUC__ && !defined FLOATS_PLAIN

typedef float Floats __attribute__((vector_size(4 * FLOATS)));
typedef uint32_t FloatsBits __attribute__((vector_size(4 * FLOATS)));

#define FLOATS_OF(...)         ((Floats){__VA_ARGS__})
#define FLOATS_LANE(x, i)      ((x)[i])
#define FLOATS_EACH(a, set, b) (a set b) /* set: an operator such as +=, lane by lane */

/* Lanes of a (from 0 on) and of b (from FLOATS on). */
#if defined __clang__ || __GNUC__ >= 12
#define FLOATS_PICK(a, b, ...) __builtin_shufflevector(a, b, __VA_ARGS__)
#else
#define FLOATS_PICK(a, b, ...) __builtin_shuffle(a, b, (FloatsBits){__VA_ARGS__})
#endif

#else

typedef struct {
    float lane[FLOATS];
} Floats;
typedef struct {
    uint32_t lane[FLOATS];
} FloatsBits;

#define FLOATS_OF(...)    ((Floats){{__VA_ARGS__}})
#define FLOATS_LANE(x, i) ((x).lane[i])
#define FLOATS_EACH(a, set, b)                                                                                         \
    for (int i = 0; i < FLOATS; ++i)                                                                                   \
    (a).lane[i] set(b).lane[i]
#define FLOATS_PICK(a, b, ...) floats_pick(a, b, (const int[FLOATS]){__VA_ARGS__})

static INLINED Floats floats_pick(Floats a, Floats b, const int *from)
{
    Floats picked;
    for (int i = 0; i < FLOATS; ++i)
        picked.lane[i] = from[i] < FLOATS ? a.lane[from[i]] : b.lane[from[i] - FLOATS];
    return picked;
}

#endif

static INLINED Floats floats_add(Floats a, Floats b)
{
    FLOATS_EACH(a, +=, b);
    return a;
}

static INLINED Floats floats_sub(Floats a, Floats b)
{
    FLOATS_EACH(a, -=, b);
    return a;
}

static INLINED Floats floats_mul(Floats a, Floats b)
{
    FLOATS_EACH(a, *=, b);
    return a;
}

/* `bits` or-ed with the bits of x, lane by lane. */
static INLINED FloatsBits floats_gather(FloatsBits bits, Floats x)
{
    FloatsBits more;
    memcpy(&more, &x, sizeof more);
    FLOATS_EACH(bits, |=, more);
    return bits;
}

static INLINED float floats_lane(Floats x, int lane)
{
    return FLOATS_LANE(x, lane);
}

#if FLOATS == 8

static INLINED Floats floats_all(float x)
{
    return FLOATS_OF(x, x, x, x, x, x, x, x);
}

/* a in all lanes of the lower four, b in all lanes of the upper. */
static INLINED Floats floats_all_fours(float a, float b)
{
    return FLOATS_OF(a, a, a, a, b, b, b, b);
}

/* The sums of two vectors' fours: the first one's in the lower four. */
static INLINED Floats floats_fold_two(Floats a, Floats b)
{
    return floats_add(FLOATS_PICK(a, b, 0, 1, 2, 3, 8, 9, 10, 11), FLOATS_PICK(a, b, 4, 5, 6, 7, 12, 13, 14, 15));
}

/* Copies one lane of the upper four (0..3) to all four of them; the lower four stay. */
#define floats_spread_upper(x, lane) FLOATS_PICK(x, x, 0, 1, 2, 3, 4 + (lane), 4 + (lane), 4 + (lane), 4 + (lane))

/* Copies one lane of each four (0..3) to all lanes of that four. */
#define floats_spread(x, lane) FLOATS_PICK(x, x, lane, lane, lane, lane, 4 + (lane), 4 + (lane), 4 + (lane), 4 + (lane))

/* In each four: a0 + a1, a2 + a3, b0 + b1, b2 + b3. */
static INLINED Floats floats_add_pairs(Floats a, Floats b)
{
    return floats_add(FLOATS_PICK(a, b, 0, 2, 8, 10, 4, 6, 12, 14), FLOATS_PICK(a, b, 1, 3, 9, 11, 5, 7, 13, 15));
}

/* Transposes a square of FLOATS rows: pairs of rows, pairs of pairs, then halves. */
static INLINED void floats_turn(Floats *x)
{
    Floats y[FLOATS];
    UNROLLED
    for (int i = 0; i < FLOATS; i += 2) {
        y[i] = FLOATS_PICK(x[i], x[i + 1], 0, 8, 1, 9, 4, 12, 5, 13);
        y[i + 1] = FLOATS_PICK(x[i], x[i + 1], 2, 10, 3, 11, 6, 14, 7, 15);
    }
    UNROLLED
    for (int i = 0; i < FLOATS; i += 4) {
        x[i] = FLOATS_PICK(y[i], y[i + 2], 0, 1, 8, 9, 4, 5, 12, 13);
        x[i + 1] = FLOATS_PICK(y[i], y[i + 2], 2, 3, 10, 11, 6, 7, 14, 15);
        x[i + 2] = FLOATS_PICK(y[i + 1], y[i + 3], 0, 1, 8, 9, 4, 5, 12, 13);
        x[i + 3] = FLOATS_PICK(y[i + 1], y[i + 3], 2, 3, 10, 11, 6, 7, 14, 15);
    }
    UNROLLED
    for (int i = 0; i < FLOATS / 2; ++i) {
        const Floats low = x[i], high = x[i + 4];
        x[i] = FLOATS_PICK(low, high, 0, 1, 2, 3, 8, 9, 10, 11);
        x[i + 4] = FLOATS_PICK(low, high, 4, 5, 6, 7, 12, 13, 14, 15);
    }
}

#else

static INLINED Floats floats_all(float x)
{
    return FLOATS_OF(x, x, x, x);
}

#define floats_spread(x, lane) FLOATS_PICK(x, x, lane, lane, lane, lane)

static INLINED Floats floats_add_pairs(Floats a, Floats b)
{
    return floats_add(FLOATS_PICK(a, b, 0, 2, 4, 6), FLOATS_PICK(a, b, 1, 3, 5, 7));
}

/* Transposes a square of FLOATS rows: lane j of row i goes to lane i of row j. */
static INLINED void floats_turn(Floats *x)
{
    const Floats ab = FLOATS_PICK(x[0], x[1], 0, 4, 1, 5), AB = FLOATS_PICK(x[0], x[1], 2, 6, 3, 7);
    const Floats cd = FLOATS_PICK(x[2], x[3], 0, 4, 1, 5), CD = FLOATS_PICK(x[2], x[3], 2, 6, 3, 7);
    x[0] = FLOATS_PICK(ab, cd, 0, 1, 4, 5);
    x[1] = FLOATS_PICK(ab, cd, 2, 3, 6, 7);
    x[2] = FLOATS_PICK(AB, CD, 0, 1, 4, 5);
    x[3] = FLOATS_PICK(AB, CD, 2, 3, 6, 7);
}

#endif

/* FLOATS floats from x on; no alignment needed. */
static INLINED Floats floats_load(const float *x)
{
    Floats v;
    memcpy(&v, x, sizeof v);
    return v;
}

static INLINED void floats_store(float *x, Floats v)
{
    memcpy(x, &v, sizeof v);
}

/* A vector from its fours, and back. Done in registers: through memory, the load would wait for both stores. */
#if FLOATS == 8 && !defined FLOATS_PLAIN && (defined __clang__ || __GNUC__ >= 12)

static INLINED Floats floats_join(const Four *part)
{
    return __builtin_shufflevector(part[0], part[1], 0, 1, 2, 3, 4, 5, 6, 7);
}

static INLINED void floats_part(Floats x, Four *part)
{
    part[0] = __builtin_shufflevector(x, x, 0, 1, 2, 3);
    part[1] = __builtin_shufflevector(x, x, 4, 5, 6, 7);
}

#else

static INLINED Floats floats_join(const Four *part)
{
    Floats x;
    memcpy(&x, part, sizeof x);
    return x;
}

static INLINED void floats_part(Floats x, Four *part)
{
    memcpy(part, &x, sizeof x);
}

#endif

/* Loads a vector from fours of floats that lie `apart` bytes apart; and stores it so. */
static INLINED Floats floats_load_fours(const float *x, size_t apart)
{
    Four part[FLOATS / 4];
    UNROLLED
    for (size_t f = 0; f < FLOATS / 4; ++f)
        memcpy(&part[f], (const char *)x + f * apart, sizeof part[f]);
    return floats_join(part);
}

static INLINED void floats_store_fours(float *x, size_t apart, Floats v)
{
    Four part[FLOATS / 4];
    floats_part(v, part);
    UNROLLED
    for (size_t f = 0; f < FLOATS / 4; ++f)
        memcpy((char *)x + f * apart, &part[f], sizeof part[f]);
}

/* The sum of a vector's fours, added from the first on. */
static INLINED Four floats_fold(Floats x)
{
    Four part[FLOATS / 4];
    floats_part(x, part);
    Four sum = part[0];
    UNROLLED
    for (size_t f = 1; f < FLOATS / 4; ++f)
        sum = four_add(sum, part[f]);
    return sum;
}

/* All lanes of what floats_gather() collected, or-ed together. */
static INLINED uint32_t floats_bits(FloatsBits bits)
{
    uint32_t lane[FLOATS], all = 0;
    memcpy(lane, &bits, sizeof lane);
    for (int i = 0; i < FLOATS; ++i)
        all |= lane[i];
    return all;
}

/* The sample at t of FLOATS / 4 channels, each in all four lanes of its own four. */
static INLINED Floats floats_sample(const float *const *in, uint32_t t)
{
#if FLOATS == 8
    return floats_all_fours(in[0][t], in[1][t]);
#else
    return floats_all(in[0][t]);
#endif
}

#endif
