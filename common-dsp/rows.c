#define FLOATS        4
#define ROWS_PRODUCTS rows_products_four
#define ROWS_GATHER   rows_gather_four

#include "rows_kernel.h"

static float add_up(const float *s)
{
    return ((s[0] + s[1]) + (s[2] + s[3])) + ((s[4] + s[5]) + (s[6] + s[7]));
}

void rows_products(const float *const a[ROWS_PAIRS], const float *const b[ROWS_PAIRS], uint32_t n,
                   float sum[ROWS_PAIRS])
{
    float all[ROWS_PAIRS][ROWS_STEP];
    if (wide_avx2())
        rows_products_avx2(a, b, n, all);
    else
        rows_products_four(a, b, n, all);
    for (int p = 0; p < ROWS_PAIRS; ++p)
        sum[p] = add_up(all[p]);
}

void rows_gather(const float *row, uint32_t width, uint32_t rows, const float *x, const float *y, float *a, float *b)
{
    if (wide_avx2())
        rows_gather_avx2(row, width, rows, x, y, a, b);
    else
        rows_gather_four(row, width, rows, x, y, a, b);
}
