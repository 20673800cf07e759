/* The loops of rows.h for vectors of FLOATS (floats.h), under the names ROWS_PRODUCTS, ROWS_FILTER, ROWS_LAGS,
 * ROWS_GATHER, ROWS_TWICE and ROWS_SLIDE. No include guard: it is the body of the files that include it. */
#include "floats.h"
#include "rows_inside.h"

#include <stddef.h>

/* Vectors in a step; vectors of a row that gather() takes together, at most; and those that gather_twice() does: with
 * their sums they fill sixteen registers. */
enum { IN_STEP = ROWS_STEP / FLOATS, AT_ONCE = 4, IN_WIDTH = 7 };

/* Adds up the eight sums of each pair, as rows.h says: lane p gets those of pair p. */
static INLINED Four added_up(Floats all[ROWS_PAIRS][IN_STEP])
{
    Four sum[IN_STEP];
    UNROLLED
    for (size_t v = 0; v < IN_STEP; ++v)
        sum[v] = floats_fold(
            floats_add_pairs(floats_add_pairs(all[0][v], all[1][v]), floats_add_pairs(all[2][v], all[3][v])));
    return FLOATS == ROWS_STEP ? sum[0] : four_add(sum[0], sum[IN_STEP - 1]);
}

/* What is the same among a and among b is loaded once. pairs: a compile-time constant, 2 or ROWS_PAIRS; of two, the
 * sums are in the lower lanes. */
static INLINED Four products(size_t pairs, const float *const a[ROWS_PAIRS], const float *const b[ROWS_PAIRS],
                             uint32_t n)
{
    const float *const a0 = a[0], *const a1 = a[1], *const a2 = a[2], *const a3 = a[3];
    const float *const b0 = b[0], *const b1 = b[1], *const b2 = b[2], *const b3 = b[3];
    Floats all[ROWS_PAIRS][IN_STEP];
    UNROLLED
    for (int v = 0; v < IN_STEP; ++v)
        all[0][v] = all[1][v] = all[2][v] = all[3][v] = floats_all(0.f);
    for (size_t i = 0; i < n; i += ROWS_STEP) {
        UNROLLED
        for (size_t v = 0, at = i; v < IN_STEP; ++v, at += FLOATS) {
            all[0][v] = floats_add(all[0][v], floats_mul(floats_load(a0 + at), floats_load(b0 + at)));
            all[1][v] = floats_add(all[1][v], floats_mul(floats_load(a1 + at), floats_load(b1 + at)));
            if (pairs == 2)
                continue;
            all[2][v] = floats_add(all[2][v], floats_mul(floats_load(a2 + at), floats_load(b2 + at)));
            all[3][v] = floats_add(all[3][v], floats_mul(floats_load(a3 + at), floats_load(b3 + at)));
        }
    }
    return added_up(all);
}

void ROWS_PRODUCTS(const float *const a[ROWS_PAIRS], const float *const b[ROWS_PAIRS], uint32_t n,
                   float sum[ROWS_PAIRS])
{
    four_store(sum, products(ROWS_PAIRS, a, b, n));
}

void ROWS_FILTER(const float *tap, const float *x, uint32_t apart, uint32_t windows, uint32_t n, float *sum)
{
    const float *const same[] = {tap, tap, tap, tap}, *const y = x + apart, *const z = y + apart;
    if (windows == ROWS_PAIRS) {
        four_store(sum, products(ROWS_PAIRS, same, (const float *[]){x, y, z, z + apart}, n));
        return;
    }
    const Four both = products(2, same, (const float *[]){x, y, x, x}, n);
    sum[0] = four_lane(both, 0);
    sum[1] = four_lane(both, 1);
}

/* From one lag to the next one end stays and the other moves on: first y where the lag is even, x where it is odd. */
void ROWS_LAGS(const float *centre, uint32_t lag, uint32_t lags, uint32_t n, float *sum)
{
    const float *x = centre - lag / 2, *y = x + lag;
    for (uint32_t k = 0; k < lags; k += ROWS_PAIRS, x -= 2, y += 2)
        if (lag % 2 == 0)
            four_store(sum + k, products(ROWS_PAIRS, (const float *[]){x, x, x - 1, x - 1},
                                         (const float *[]){y, y + 1, y + 1, y + 2}, n));
        else
            four_store(sum + k, products(ROWS_PAIRS, (const float *[]){x, x - 1, x - 1, x - 2},
                                         (const float *[]){y, y, y + 1, y + 1}, n));
}

/* vectors: how many of each row, a compile-time constant of at most AT_ONCE. */
static INLINED void gather(size_t vectors, const float *row, uint32_t width, uint32_t rows, const float *x,
                           const float *y, float *a, float *b)
{
    Floats sum_a[AT_ONCE], sum_b[AT_ONCE];
    UNROLLED
    for (size_t v = 0; v < vectors; ++v) {
        sum_a[v] = floats_load(a + v * FLOATS);
        sum_b[v] = floats_load(b + v * FLOATS);
    }
    for (uint32_t t = 0; t < rows; ++t, row += width) {
        const Floats by_x = floats_all(x[t]), by_y = floats_all(y[t]);
        UNROLLED
        for (size_t v = 0; v < vectors; ++v) {
            const Floats share = floats_load(row + v * FLOATS);
            sum_a[v] = floats_add(sum_a[v], floats_mul(share, by_x));
            sum_b[v] = floats_add(sum_b[v], floats_mul(share, by_y));
        }
    }
    UNROLLED
    for (size_t v = 0; v < vectors; ++v) {
        floats_store(a + v * FLOATS, sum_a[v]);
        floats_store(b + v * FLOATS, sum_b[v]);
    }
}

void ROWS_GATHER(const float *row, uint32_t width, uint32_t rows, const float *x, const float *y, float *a, float *b)
{
    size_t i = 0;
    for (; i + (size_t)AT_ONCE * FLOATS <= width; i += (size_t)AT_ONCE * FLOATS)
        gather(AT_ONCE, row + i, width, rows, x, y, a + i, b + i);
    const size_t left = (width - i) / FLOATS;
    if (left == 3)
        gather(3, row + i, width, rows, x, y, a + i, b + i);
    else if (left == 2)
        gather(2, row + i, width, rows, x, y, a + i, b + i);
    else if (left == 1)
        gather(1, row + i, width, rows, x, y, a + i, b + i);
}

static INLINED void gather_twice(const float *row, uint32_t width, uint32_t rows, const float *x, float *a, float *b)
{
    Floats once[IN_WIDTH], twice[IN_WIDTH];
    UNROLLED
    for (size_t v = 0; v < IN_WIDTH; ++v)
        once[v] = twice[v] = floats_all(0.f);
    for (uint32_t t = 0; t < rows; ++t, row += width) {
        const Floats by = floats_all(x[t]);
        UNROLLED
        for (size_t v = 0; v < IN_WIDTH; ++v) {
            once[v] = floats_add(once[v], floats_mul(floats_load(row + v * FLOATS), by));
            twice[v] = floats_add(twice[v], once[v]);
        }
    }
    UNROLLED
    for (size_t v = 0; v < IN_WIDTH; ++v) {
        floats_store(a + v * FLOATS, floats_add(floats_load(a + v * FLOATS), once[v]));
        floats_store(b + v * FLOATS, floats_add(floats_load(b + v * FLOATS), twice[v]));
    }
}

void ROWS_TWICE(const float *row, uint32_t width, uint32_t rows, const float *x, float *a, float *b)
{
    for (size_t i = 0; i < width; i += (size_t)IN_WIDTH * FLOATS)
        gather_twice(row + i, width, rows, x, a + i, b + i);
}

/* filters: a compile-time constant, 1 or ROWS_FILTERS. */
static INLINED void slide(uint32_t filters, const float *x, const float *tap, uint32_t taps, float (*sum)[ROWS_STEP])
{
    Floats all[ROWS_FILTERS][IN_STEP];
    UNROLLED
    for (size_t v = 0; v < IN_STEP; ++v)
        all[0][v] = all[1][v] = all[2][v] = floats_all(0.f);
    for (size_t k = 0; k < taps; ++k) {
        UNROLLED
        for (size_t v = 0; v < IN_STEP; ++v) {
            const Floats here = floats_load(x + k + v * FLOATS);
            UNROLLED
            for (size_t f = 0; f < filters; ++f)
                all[f][v] = floats_add(all[f][v], floats_mul(floats_all(tap[f * taps + k]), here));
        }
    }
    UNROLLED
    for (size_t f = 0; f < filters; ++f) {
        UNROLLED
        for (size_t v = 0; v < IN_STEP; ++v)
            floats_store(sum[f] + v * FLOATS, all[f][v]);
    }
}

void ROWS_SLIDE(const float *x, const float *tap, uint32_t taps, uint32_t filters, float sum[ROWS_FILTERS][ROWS_STEP])
{
    if (filters == ROWS_FILTERS)
        slide(ROWS_FILTERS, x, tap, taps, sum);
    else
        slide(1, x, tap, taps, sum);
}
