/* Behind rows.h: each function at both widths; rows.c takes the wider one where the machine has it. */
#ifndef LINCTUS_ROWS_INSIDE_H
#define LINCTUS_ROWS_INSIDE_H

#include "rows.h"
#include "wide.h"

typedef void RowsProducts(const float *const a[ROWS_PAIRS], const float *const b[ROWS_PAIRS], uint32_t n,
                          float sum[ROWS_PAIRS]);
typedef void RowsFilter(const float *tap, const float *x, uint32_t apart, uint32_t windows, uint32_t n, float *sum);
typedef void RowsLags(const float *centre, uint32_t lag, uint32_t lags, uint32_t n, float *sum);
typedef void RowsGather(const float *row, uint32_t width, uint32_t rows, const float *x, const float *y, float *a,
                        float *b);
typedef void RowsTwice(const float *row, uint32_t width, uint32_t rows, const float *x, float *a, float *b);
typedef void RowsSlide(const float *x, const float *tap, uint32_t taps, uint32_t filters,
                       float sum[ROWS_FILTERS][ROWS_STEP]);

RowsProducts rows_products_four;
RowsFilter rows_filter_four;
RowsLags rows_lags_four;
RowsGather rows_gather_four;
RowsTwice rows_gather_twice_four;
RowsSlide rows_slide_four;

/* Exist where WIDE_AVX2 is 1; call them only where wide_avx2() is true. */
RowsProducts rows_products_avx2;
RowsFilter rows_filter_avx2;
RowsLags rows_lags_avx2;
RowsGather rows_gather_avx2;
RowsTwice rows_gather_twice_avx2;
RowsSlide rows_slide_avx2;

#endif
