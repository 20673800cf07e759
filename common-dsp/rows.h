/* Sums of products over rows of floats, with the machine's widest vectors (wide.h). The order of the additions is fixed
 * here, so that every width gives the same bits: tests/unit/test_rows.c. */
#ifndef LINCTUS_ROWS_H
#define LINCTUS_ROWS_H

#include <stdint.h>

enum {
    ROWS_PAIRS = 4,  /* pairs of rows in one call of rows_products() */
    ROWS_STEP = 8,   /* floats: a row's length is a multiple of this */
    ROWS_WIDTH = 56, /* floats: the width that rows_gather_twice() takes at once */
    ROWS_FILTERS = 3 /* filters in one call of rows_slide(), at most */
};

/* sum[p]: of a[p][i] b[p][i] for i < n, n a multiple of ROWS_STEP. Order: eight sums s0..s7, each over every eighth i,
 * then ((s0 + s1) + (s2 + s3)) + ((s4 + s5) + (s6 + s7)). */
void rows_products(const float *const a[ROWS_PAIRS], const float *const b[ROWS_PAIRS], uint32_t n,
                   float sum[ROWS_PAIRS]);

/* sum[w]: of tap[i] x[w apart + i] for i < n, in the same order. windows: 2 or ROWS_PAIRS. */
void rows_filter(const float *tap, const float *x, uint32_t apart, uint32_t windows, uint32_t n, float *sum);

/* sum[k], for each k < lags, a multiple of ROWS_PAIRS: of x[i] x[l + i] for i < n, in the same order, where l = lag + k
 * and x = centre - l / 2 (a whole number, rounded down). */
void rows_lags(const float *centre, uint32_t lag, uint32_t lags, uint32_t n, float *sum);

/* a[i] += row[0][i] x[0], then row[1][i] x[1], and so on over all `rows`; b[i] the same with y. i < width, a multiple
 * of ROWS_STEP; the rows lie one after the other in memory. */
void rows_gather(const float *row, uint32_t width, uint32_t rows, const float *x, const float *y, float *a, float *b);

/* For the same rows, i < width, a multiple of ROWS_WIDTH: with s_t the sum of row[0][i] x[0] to row[t][i] x[t], from 0
 * on, a[i] += the last of these sums, b[i] += s_0 + s_1 and so on, from 0 on. So each product counts once in a, and in
 * b once for each row that is left. */
void rows_gather_twice(const float *row, uint32_t width, uint32_t rows, const float *x, float *a, float *b);

/* sum[f][i] = tap[f * taps] x[i] + tap[f * taps + 1] x[i + 1] + ..., over the `taps` of each filter f, in that order.
 * filters: 1 or ROWS_FILTERS; x: taps + ROWS_STEP - 1 floats. */
void rows_slide(const float *x, const float *tap, uint32_t taps, uint32_t filters, float sum[ROWS_FILTERS][ROWS_STEP]);

#endif
