/* Inside rows.h: each function at both widths, of which rows.c takes the one that the machine has. */
#ifndef LINCTUS_ROWS_INSIDE_H
#define LINCTUS_ROWS_INSIDE_H

#include "rows.h"
#include "wide.h"

/* The eight sums of each pair. */
typedef void RowsProducts(const float *const a[ROWS_PAIRS], const float *const b[ROWS_PAIRS], uint32_t n,
                          float sum[ROWS_PAIRS][ROWS_STEP]);
typedef void RowsGather(const float *row, uint32_t width, uint32_t rows, const float *x, const float *y, float *a,
                        float *b);

typedef void RowsSlide(const float *x, const float *tap, uint32_t taps, uint32_t filters,
                       float sum[ROWS_FILTERS][ROWS_STEP]);

RowsProducts rows_products_four;
RowsGather rows_gather_four;
RowsSlide rows_slide_four;

/* Where WIDE_AVX2; to be called where wide_avx2(). */
RowsProducts rows_products_avx2;
RowsGather rows_gather_avx2;
RowsSlide rows_slide_avx2;

#endif
