/* Sums over rows: what the page lays down, to the bit, with vectors of four and of eight, without any, and as they are
 * called. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "plain_rows.h"
#include "seeds.h"

enum { LONGEST = 400, ROWS = 40, WIDEST = 3 * ROWS_BLOCK };

/* -1..1 */
static float noise(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (float)((int32_t)*seed) / 2147483648.f;
}

static void fill(float *x, size_t n, uint32_t *seed)
{
    for (size_t i = 0; i < n; ++i)
        x[i] = noise(seed);
}

/* ---- Products ---- */

static void products_as_told(const float *a, const float *b, uint32_t n, float sum[ROWS_STEP])
{
    memset(sum, 0, ROWS_STEP * sizeof *sum);
    for (uint32_t i = 0; i < n; ++i)
        sum[i % ROWS_STEP] += a[i] * b[i];
}

/* Rows of every length, that start anywhere. */
static void check_products(RowsProducts *products)
{
    uint32_t seed = seeded(1);
    float x[LONGEST + 8], y[LONGEST + 8];
    fill(x, LONGEST + 8, &seed);
    fill(y, LONGEST + 8, &seed);
    for (uint32_t n = 0; n <= LONGEST; n += ROWS_STEP) {
        float got[ROWS_PAIRS][ROWS_STEP], want[ROWS_STEP];
        products((const float *[]){x, x + 1, x + 2, x + 7}, (const float *[]){y + 3, y, y, x}, n, got);
        const float *const a[] = {x, x + 1, x + 2, x + 7}, *const b[] = {y + 3, y, y, x};
        for (int p = 0; p < ROWS_PAIRS; ++p) {
            products_as_told(a[p], b[p], n, want);
            assert_memory_equal(got[p], want, sizeof want);
        }
    }
}

/* ---- Gathering ---- */

static void gather_as_told(const float *row, uint32_t width, uint32_t rows, const float *x, float *a)
{
    for (uint32_t t = 0; t < rows; ++t)
        for (uint32_t i = 0; i < width; ++i)
            a[i] += row[(size_t)t * width + i] * x[t];
}

static void check_gather(RowsGather *gather)
{
    uint32_t seed = seeded(2);
    static float row[ROWS * WIDEST], x[ROWS], y[ROWS], a[WIDEST], b[WIDEST], want_a[WIDEST], want_b[WIDEST];
    fill(row, (size_t)ROWS * WIDEST, &seed);
    fill(x, ROWS, &seed);
    fill(y, ROWS, &seed);
    for (uint32_t width = ROWS_BLOCK; width <= WIDEST; width += ROWS_BLOCK)
        for (uint32_t rows = 0; rows <= ROWS; rows += 8) {
            fill(a, WIDEST, &seed);
            fill(b, WIDEST, &seed);
            memcpy(want_a, a, sizeof a);
            memcpy(want_b, b, sizeof b);
            gather(row, width, rows, x, y, a, b);
            gather_as_told(row, width, rows, x, want_a);
            gather_as_told(row, width, rows, y, want_b);
            assert_memory_equal(a, want_a, sizeof a);
            assert_memory_equal(b, want_b, sizeof b);
        }
}

/* ---- Sliding ---- */

static void check_slide(RowsSlide *slide)
{
    enum { TAPS = 20 };
    uint32_t seed = seeded(4);
    float x[TAPS + ROWS_STEP - 1], tap[ROWS_FILTERS * TAPS];
    fill(x, TAPS + ROWS_STEP - 1, &seed);
    fill(tap, (size_t)ROWS_FILTERS * TAPS, &seed);
    for (uint32_t filters = 1; filters <= ROWS_FILTERS; filters += ROWS_FILTERS - 1)
        for (uint32_t taps = 0; taps <= TAPS; taps += 5) {
            float got[ROWS_FILTERS][ROWS_STEP], want[ROWS_FILTERS][ROWS_STEP] = {{0.f}};
            for (uint32_t f = 0; f < filters; ++f)
                for (uint32_t i = 0; i < ROWS_STEP; ++i)
                    for (uint32_t k = 0; k < taps; ++k)
                        want[f][i] += tap[f * taps + k] * x[i + k];
            slide(x, tap, taps, filters, got);
            assert_memory_equal(got, want, filters * sizeof *got);
        }
}

/* ---- All three ---- */

static void vectors_of_four_keep_to_the_bit(void **state)
{
    (void)state;
    check_products(rows_products_four);
    check_gather(rows_gather_four);
    check_slide(rows_slide_four);
}

static void vectors_of_eight_keep_to_the_bit(void **state)
{
    (void)state;
    if (WIDE_AVX2 && !wide_avx2()) {
        printf("skipped: this processor has no AVX2\n");
        skip();
    }
    check_products(rows_products_avx2);
    check_gather(rows_gather_avx2);
    check_slide(rows_slide_avx2);
}

static void plain_loops_keep_to_the_bit(void **state)
{
    (void)state;
    check_products(plain_rows_products);
    check_gather(plain_rows_gather);
    check_slide(plain_rows_slide);
}

static void what_is_called_is_one_of_them(void **state)
{
    (void)state;
    uint32_t seed = seeded(3);
    float x[LONGEST], y[LONGEST], sum[ROWS_PAIRS], s[ROWS_STEP];
    fill(x, LONGEST, &seed);
    fill(y, LONGEST, &seed);
    rows_products((const float *[]){x, x, y, y}, (const float *[]){y, x, x, y}, LONGEST, sum);
    products_as_told(x, y, LONGEST, s);
    assert_true(sum[0] == ((s[0] + s[1]) + (s[2] + s[3])) + ((s[4] + s[5]) + (s[6] + s[7])));
    assert_true(sum[0] == sum[2] && sum[1] != sum[3]);
    check_gather(rows_gather);
    check_slide(rows_slide);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(vectors_of_four_keep_to_the_bit),
        cmocka_unit_test(vectors_of_eight_keep_to_the_bit),
        cmocka_unit_test(plain_loops_keep_to_the_bit),
        cmocka_unit_test(what_is_called_is_one_of_them),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
