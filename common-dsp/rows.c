#define FLOATS        4
#define ROWS_PRODUCTS rows_products_four
#define ROWS_FILTER   rows_filter_four
#define ROWS_LAGS     rows_lags_four
#define ROWS_GATHER   rows_gather_four
#define ROWS_TWICE    rows_gather_twice_four
#define ROWS_SLIDE    rows_slide_four

#include "rows_kernel.h"

void rows_products(const float *const a[ROWS_PAIRS], const float *const b[ROWS_PAIRS], uint32_t n,
                   float sum[ROWS_PAIRS])
{
    if (wide_avx2())
        rows_products_avx2(a, b, n, sum);
    else
        rows_products_four(a, b, n, sum);
}

void rows_filter(const float *tap, const float *x, uint32_t apart, uint32_t windows, uint32_t n, float *sum)
{
    if (wide_avx2())
        rows_filter_avx2(tap, x, apart, windows, n, sum);
    else
        rows_filter_four(tap, x, apart, windows, n, sum);
}

void rows_lags(const float *centre, uint32_t lag, uint32_t lags, uint32_t n, float *sum)
{
    if (wide_avx2())
        rows_lags_avx2(centre, lag, lags, n, sum);
    else
        rows_lags_four(centre, lag, lags, n, sum);
}

void rows_gather(const float *row, uint32_t width, uint32_t rows, const float *x, const float *y, float *a, float *b)
{
    if (wide_avx2())
        rows_gather_avx2(row, width, rows, x, y, a, b);
    else
        rows_gather_four(row, width, rows, x, y, a, b);
}

void rows_gather_twice(const float *row, uint32_t width, uint32_t rows, const float *x, float *a, float *b)
{
    if (wide_avx2())
        rows_gather_twice_avx2(row, width, rows, x, a, b);
    else
        rows_gather_twice_four(row, width, rows, x, a, b);
}

void rows_slide(const float *x, const float *tap, uint32_t taps, uint32_t filters, float sum[ROWS_FILTERS][ROWS_STEP])
{
    if (wide_avx2())
        rows_slide_avx2(x, tap, taps, filters, sum);
    else
        rows_slide_four(x, tap, taps, filters, sum);
}
