/* More arithmetic on the vectors of four.h: maximum and minimum, quotient, powers and logarithms of 2. The same bits
 * with vector instructions and without (tests/unit/test_four.c). No lane may be NaN. */
#ifndef LINCTUS_FOUR_MATH_H
#define LINCTUS_FOUR_MATH_H

#include "four.h"

static inline Four four_from_bits(FourBits bits)
{
    Four x;
    memcpy(&x, &bits, sizeof x);
    return x;
}

static inline FourBits four_bits_all(uint32_t x)
{
    return FOUR_OF(FourBits, x, x, x, x);
}

static inline FourBits four_bits_add(FourBits a, FourBits b)
{
    FOUR_EACH(a, +=, b);
    return a;
}

static inline FourBits four_bits_sub(FourBits a, FourBits b)
{
    FOUR_EACH(a, -=, b);
    return a;
}

static inline FourBits four_bits_and(FourBits a, FourBits b)
{
    FOUR_EACH(a, &=, b);
    return a;
}

static inline FourBits four_bits_or(FourBits a, FourBits b)
{
    FOUR_EACH(a, |=, b);
    return a;
}

static inline FourBits four_bits_up(FourBits a, uint32_t by)
{
    const FourBits each = four_bits_all(by);
    FOUR_EACH(a, <<=, each);
    return a;
}

static inline FourBits four_bits_down(FourBits a, uint32_t by)
{
    const FourBits each = four_bits_all(by);
    FOUR_EACH(a, >>=, each);
    return a;
}

static inline Four four_div(Four a, Four b)
{
    FOUR_EACH(a, /=, b);
    return a;
}

/* four_max() and four_min(): b where they are equal. */
#if defined __SSE__ && !defined FOUR_PLAIN

#include <xmmintrin.h>

/* One instruction, which no compiler here makes of the portable form below. */
static inline Four four_max(Four a, Four b)
{
    return _mm_max_ps(a, b);
}

static inline Four four_min(Four a, Four b)
{
    return _mm_min_ps(a, b);
}

#else
/* a where the bits of `first` are 1, b where they are 0. */
static inline Four four_choose(FourBits first, Four a, Four b)
{
    const FourBits other = four_as_bits(b);
    FourBits bits = four_as_bits(a);
    FOUR_EACH(bits, ^=, other);
    FOUR_EACH(bits, &=, first);
    FOUR_EACH(bits, ^=, other);
    return four_from_bits(bits);
}

static inline Four four_max(Four a, Four b)
{
    return four_choose(FOUR_WHERE(a, >, b), a, b);
}

static inline Four four_min(Four a, Four b)
{
    return four_choose(FOUR_WHERE(a, <, b), a, b);
}

#endif

static inline Four four_abs(Four x)
{
    return four_from_bits(four_bits_and(four_as_bits(x), four_bits_all(0x7fffffff)));
}

/* Lanes of a magnitude below `least`, which is above 0, become 0. Works because the bits of floats without their signs,
 * read as whole numbers, are in order of magnitude. */
static inline Four four_hush(Four x, float least)
{
    const FourBits under = four_bits_sub(four_as_bits(four_abs(x)), four_as_bits(four_all(least)));
    const FourBits kept = four_bits_sub(four_bits_down(under, 31), four_bits_all(1));
    return four_from_bits(four_bits_and(four_as_bits(x), kept));
}

/* x c + d */
static inline Four four_step(Four x, Four c, float d)
{
    return four_add(four_mul(x, c), four_all(d));
}

/* 2^x with a relative error of 1.2e-7 at most, exact for whole x; x is held to -126..127. The whole part goes into the
 * exponent, the rest, -1/2..1/2, through a polynomial of degree 6 that is 1 at 0. Its coefficients are our own fit of
 * (2^x - 1) / x at the roots of a Chebyshev polynomial. It is off by 5e-9; the rest of the error is rounding. */
static inline Four four_exp2(Four x)
{
    const Four held = four_min(four_max(x, four_all(-126.f)), four_all(127.f));
    const Four rounding = four_all(0x1.8p23f); /* adding this leaves the whole part in the last bits */
    const Four shifted = four_add(held, rounding);
    const Four f = four_sub(held, four_sub(shifted, rounding));
    Four y = four_step(four_all(1.54531629e-4f), f, 1.33908634e-3f);
    y = four_step(y, f, 9.61808256e-3f);
    y = four_step(y, f, 5.55035711e-2f);
    y = four_step(y, f, 2.40226508e-1f);
    y = four_step(y, f, 6.93147188e-1f);
    y = four_step(y, f, 1.f);
    return four_from_bits(four_bits_add(four_bits_up(four_as_bits(shifted), 23), four_as_bits(y)));
}

/* Logarithm to base 2 of normal numbers, x from 2^-126 up. Error at most 1.5e-7, or 1.5e-7 of the result if that is
 * larger; exact for powers of 2. The exponent is split off to leave m = sqrt(1/2)..sqrt(2), and s = (m - 1) / (m + 1)
 * goes through the series of the inverse hyperbolic tangent, to s^9. */
static inline Four four_log2(Four x)
{
    const FourBits bits = four_as_bits(x), root = four_bits_all(0x3f3504f3);
    const FourBits over = four_bits_add(four_bits_sub(bits, root), four_bits_all(128u << 23));
    const FourBits whole = four_bits_down(over, 23); /* 128 plus the exponent */
    const FourBits off = four_bits_up(four_bits_sub(whole, four_bits_all(128)), 23);
    const Four m = four_from_bits(four_bits_sub(bits, off)), one = four_all(1.f);
    /* Or-ing a small whole number into the last bits of 2^23 adds it. */
    const Four e = four_sub(four_from_bits(four_bits_or(whole, four_bits_all(0x4b000000))), four_all(0x1p23f + 128.f));
    const Four s = four_div(four_sub(m, one), four_add(m, one)), ss = four_mul(s, s);
    Four y = four_step(four_all(0.320598898f), ss, 0.412198583f);
    y = four_step(y, ss, 0.577078016f);
    y = four_step(y, ss, 0.961796694f);
    y = four_step(y, ss, 2.88539008f);
    return four_add(e, four_mul(s, y));
}

/* The largest of the lanes. */
static inline float four_largest_lane(Four x)
{
    float lane[FOUR];
    four_store(lane, x);
    const float a = lane[0] > lane[1] ? lane[0] : lane[1], b = lane[2] > lane[3] ? lane[2] : lane[3];
    return a > b ? a : b;
}

/* The sum of the lanes: that of the first two plus that of the last two. */
static inline float four_sum(Four x)
{
    return (four_lane(x, 0) + four_lane(x, 1)) + (four_lane(x, 2) + four_lane(x, 3));
}

/* The smallest of the lanes. */
static inline float four_smallest_lane(Four x)
{
    return -four_largest_lane(four_sub(four_all(0.f), x));
}

/* The largest magnitude of n samples; 0 for none. */
static inline float four_largest(const float *x, uint32_t n)
{
    Four most = four_all(0.f);
    uint32_t t = 0;
    for (; t + FOUR <= n; t += FOUR)
        most = four_max(most, four_abs(four_load(x + t)));
    float last[FOUR] = {0};
    memcpy(last, x + t, (n - t) * sizeof *x);
    return four_largest_lane(four_max(most, four_abs(four_load(last))));
}

/* The largest and the smallest magnitude of n samples. */
typedef struct {
    float largest, smallest;
} FourSpan;

/* n: 1 or more. */
static inline FourSpan four_span(const float *x, uint32_t n)
{
    Four most = four_abs(four_all(*x)), least = most;
    for (uint32_t t = 0; t + FOUR <= n; t += FOUR) {
        const Four here = four_abs(four_load(x + t));
        most = four_max(most, here);
        least = four_min(least, here);
    }
    for (uint32_t t = n - n % FOUR; t < n; ++t) {
        const Four here = four_abs(four_all(x[t]));
        most = four_max(most, here);
        least = four_min(least, here);
    }
    return (FourSpan){four_largest_lane(most), four_smallest_lane(least)};
}

#endif
