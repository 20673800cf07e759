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

enum { LONGEST = 400, ROWS = 40, WIDEST = 9 * ROWS_STEP, BROADEST = 2 * ROWS_WIDTH };

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

static float product_as_told(const float *a, const float *b, uint32_t n)
{
    float s[ROWS_STEP] = {0.f};
    for (uint32_t i = 0; i < n; ++i)
        s[i % ROWS_STEP] += a[i] * b[i];
    return ((s[0] + s[1]) + (s[2] + s[3])) + ((s[4] + s[5]) + (s[6] + s[7]));
}

/* Rows of every length, that start anywhere. */
static void check_products(RowsProducts *products)
{
    uint32_t seed = seeded(1);
    float x[LONGEST + 8], y[LONGEST + 8];
    fill(x, LONGEST + 8, &seed);
    fill(y, LONGEST + 8, &seed);
    for (uint32_t n = 0; n <= LONGEST; n += ROWS_STEP) {
        const float *const a[] = {x, x + 1, x + 2, x + 7}, *const b[] = {y + 3, y, y, x};
        float got[ROWS_PAIRS];
        products(a, b, n, got);
        for (int p = 0; p < ROWS_PAIRS; ++p)
            assert_true(got[p] == product_as_told(a[p], b[p], n));
    }
}

static void check_filter(RowsFilter *filter)
{
    enum { TAPS = 40, MOST_APART = 9 };
    uint32_t seed = seeded(5);
    float x[TAPS + ROWS_PAIRS * MOST_APART], tap[TAPS];
    fill(x, TAPS + ROWS_PAIRS * MOST_APART, &seed);
    fill(tap, TAPS, &seed);
    for (uint32_t windows = 2; windows <= ROWS_PAIRS; windows += 2)
        for (uint32_t apart = 0; apart <= MOST_APART; apart += 3)
            for (uint32_t n = 0; n <= TAPS; n += ROWS_STEP) {
                float got[ROWS_PAIRS] = {9.f, 9.f, 9.f, 9.f};
                filter(tap, x, apart, windows, n, got);
                for (uint32_t w = 0; w < windows; ++w)
                    assert_true(got[w] == product_as_told(tap, x + (size_t)w * apart, n));
                assert_true(windows == ROWS_PAIRS || got[2] == 9.f);
            }
}

static void check_lags(RowsLags *lags)
{
    enum { N = 40, MOST_LAG = 30, MOST_LAGS = 3 * ROWS_PAIRS };
    uint32_t seed = seeded(6);
    float x[N + MOST_LAG + MOST_LAGS];
    const float *const centre = x + (MOST_LAG + MOST_LAGS) / 2;
    fill(x, N + MOST_LAG + MOST_LAGS, &seed);
    for (uint32_t n = 0; n <= N; n += ROWS_STEP)
        for (uint32_t first = 0; first <= MOST_LAG; ++first)
            for (uint32_t count = 0; count <= MOST_LAGS; count += ROWS_PAIRS) {
                float got[MOST_LAGS + 1] = {0.f};
                lags(centre, first, count, n, got);
                for (uint32_t k = 0; k < count; ++k) {
                    const uint32_t lag = first + k;
                    assert_true(got[k] == product_as_told(centre - lag / 2, centre - lag / 2 + lag, n));
                }
                assert_true(got[count] == 0.f);
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
    for (uint32_t width = ROWS_STEP; width <= WIDEST; width += ROWS_STEP)
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

static void gather_twice_as_told(const float *row, uint32_t width, uint32_t rows, const float *x, float *a, float *b)
{
    for (uint32_t i = 0; i < width; ++i) {
        float once = 0.f, twice = 0.f;
        for (uint32_t t = 0; t < rows; ++t) {
            once += row[(size_t)t * width + i] * x[t];
            twice += once;
        }
        a[i] += once;
        b[i] += twice;
    }
}

static void check_twice(RowsTwice *twice)
{
    uint32_t seed = seeded(3);
    static float row[ROWS * BROADEST], x[ROWS], a[BROADEST], b[BROADEST], want_a[BROADEST], want_b[BROADEST];
    fill(row, (size_t)ROWS * BROADEST, &seed);
    fill(x, ROWS, &seed);
    for (uint32_t width = ROWS_WIDTH; width <= BROADEST; width += ROWS_WIDTH)
        for (uint32_t rows = 0; rows <= ROWS; rows += 8) {
            fill(a, BROADEST, &seed);
            fill(b, BROADEST, &seed);
            memcpy(want_a, a, sizeof a);
            memcpy(want_b, b, sizeof b);
            twice(row, width, rows, x, a, b);
            gather_twice_as_told(row, width, rows, x, want_a, want_b);
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

/* ---- All of them ---- */

static void vectors_of_four_keep_to_the_bit(void **state)
{
    (void)state;
    check_products(rows_products_four);
    check_filter(rows_filter_four);
    check_lags(rows_lags_four);
    check_gather(rows_gather_four);
    check_twice(rows_gather_twice_four);
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
    check_filter(rows_filter_avx2);
    check_lags(rows_lags_avx2);
    check_gather(rows_gather_avx2);
    check_twice(rows_gather_twice_avx2);
    check_slide(rows_slide_avx2);
}

static void plain_loops_keep_to_the_bit(void **state)
{
    (void)state;
    check_products(plain_rows_products);
    check_filter(plain_rows_filter);
    check_lags(plain_rows_lags);
    check_gather(plain_rows_gather);
    check_twice(plain_rows_gather_twice);
    check_slide(plain_rows_slide);
}

static void what_is_called_is_one_of_them(void **state)
{
    (void)state;
    check_products(rows_products);
    check_filter(rows_filter);
    check_lags(rows_lags);
    check_gather(rows_gather);
    check_twice(rows_gather_twice);
    check_slide(rows_slide);
}

static void so_it_is_where_there_are_no_eights(void **state)
{
    (void)state;
    check_products(narrow_rows_products);
    check_filter(narrow_rows_filter);
    check_lags(narrow_rows_lags);
    check_gather(narrow_rows_gather);
    check_twice(narrow_rows_gather_twice);
    check_slide(narrow_rows_slide);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(vectors_of_four_keep_to_the_bit),    cmocka_unit_test(vectors_of_eight_keep_to_the_bit),
        cmocka_unit_test(plain_loops_keep_to_the_bit),        cmocka_unit_test(what_is_called_is_one_of_them),
        cmocka_unit_test(so_it_is_where_there_are_no_eights),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
