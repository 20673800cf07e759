#define FLOATS        4
#define ROWS_PRODUCTS rows_products_four
#define ROWS_GATHER   rows_gather_four
#define ROWS_SLIDE    rows_slide_four

#include "rows_kernel.h"

/* Adds four of the eight sums of each pair: lane p gets (s0 + s1) + (s2 + s3) of pair p. */
static Four add_four(float all[ROWS_PAIRS][ROWS_STEP], uint32_t from)
{
    Four s[] = {four_load(all[0] + from), four_load(all[1] + from), four_load(all[2] + from), four_load(all[3] + from)};
    four_turn(s);
    return four_add(four_add(s[0], s[1]), four_add(s[2], s[3]));
}

void rows_products(const float *const a[ROWS_PAIRS], const float *const b[ROWS_PAIRS], uint32_t n,
                   float sum[ROWS_PAIRS])
{
    float all[ROWS_PAIRS][ROWS_STEP];
    if (wide_avx2())
        rows_products_avx2(a, b, n, all);
    else
        rows_products_four(a, b, n, all);
    four_store(sum, four_add(add_four(all, 0), add_four(all, FOUR)));
}

void rows_gather(const float *row, uint32_t width, uint32_t rows, const float *x, const float *y, float *a, float *b)
{
    if (wide_avx2())
        rows_gather_avx2(row, width, rows, x, y, a, b);
    else
        rows_gather_four(row, width, rows, x, y, a, b);
}

void rows_slide(const float *x, const float *tap, uint32_t taps, uint32_t filters, float sum[ROWS_FILTERS][ROWS_STEP])
{
    if (wide_avx2())
        rows_slide_avx2(x, tap, taps, filters, sum);
    else
        rows_slide_four(x, tap, taps, filters, sum);
}
