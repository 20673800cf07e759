/* Sums of products over rows of floats, as wide as the machine's vectors are (wide.h). The order of the additions is
 * laid down here, so that every width gives the same bits: tests/unit/test_rows.c. */
#ifndef LINCTUS_ROWS_H
#define LINCTUS_ROWS_H

#include <stdint.h>

enum {
    ROWS_PAIRS = 4,  /* of rows, whose products are summed at a time */
    ROWS_STEP = 8,   /* floats: a row's length is a multiple of it */
    ROWS_BLOCK = 16, /* the same of a row of rows_gather() */
    ROWS_FILTERS = 3 /* most of rows_slide() */
};

/* sum[p]: of a[p][i] b[p][i], i < n, n a multiple of ROWS_STEP. Eight sums s0..s7, each over every eighth i in turn,
 * then
 * ((s0 + s1) + (s2 + s3)) + ((s4 + s5) + (s6 + s7)). */
void rows_products(const float *const a[ROWS_PAIRS], const float *const b[ROWS_PAIRS], uint32_t n,
                   float sum[ROWS_PAIRS]);

/* a[i] += row[0][i] x[0], then row[1][i] x[1], and so on, over so many rows; b[i] the same with y. i < width, a
 * multiple of ROWS_BLOCK; the rows lie one behind the other. */
void rows_gather(const float *row, uint32_t width, uint32_t rows, const float *x, const float *y, float *a, float *b);

/* sum[f][i]: tap[f taps] x[i], plus tap[f taps + 1] x[i + 1], and so on, over so many taps of each filter. filters: 1
 * or ROWS_FILTERS; x: ROWS_STEP - 1 floats more than taps. */
void rows_slide(const float *x, const float *tap, uint32_t taps, uint32_t filters, float sum[ROWS_FILTERS][ROWS_STEP]);

#endif
