/* The walk along the grid: every grid point once, before the first sample of its cell, however the blocks are cut. */
#include "grid.h"
#include "seeds.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum { CELLS = 40, LONG = CELLS * DSP_CELL };

/* What a walk did, by sample since its beginning. */
typedef struct {
    Grid grid;
    uint32_t block;             /* where the block under way begins */
    uint32_t next;              /* sample that is due */
    uint32_t pieces;            /* of the block under way */
    uint32_t points[CELLS + 1]; /* grid points before this cell */
} Walk;

static void point(void *with)
{
    Walk *w = with;
    assert_int_equal(w->next % DSP_CELL, 0);
    ++w->points[w->next / DSP_CELL];
}

static void piece(void *with, uint32_t from, uint32_t n)
{
    Walk *w = with;
    assert_int_equal(w->block + from, w->next);
    assert_in_range(n, 1, DSP_CELL);
    assert_int_equal(w->next / DSP_CELL, (w->next + n - 1) / DSP_CELL);
    assert_int_equal(w->points[w->next / DSP_CELL], 1);
    w->next += n;
    ++w->pieces;
}

static const GridSteps steps = {.point = point, .piece = piece};

static void walk(Walk *w, uint32_t n)
{
    grid_walk(&w->grid, n, &steps, w);
    w->block += n;
    assert_int_equal(w->next, w->block);
}

static void one_block_comes_by_every_cell(void **state)
{
    (void)state;
    Walk w = {.next = 0};
    walk(&w, LONG);
    for (uint32_t c = 0; c < CELLS; ++c)
        assert_int_equal(w.points[c], 1);
}

static void blocks_of_any_length_do_too(void **state)
{
    (void)state;
    uint32_t seed = seeded(1);
    for (int round = 0; round < 200; ++round) {
        Walk w = {.next = 0};
        while (w.next < LONG) {
            seed = seed * 1664525u + 1013904223u;
            const uint32_t n = (seed >> 16) % 80, left = LONG - w.next; /* 0 too */
            walk(&w, n < left ? n : left);
        }
        for (uint32_t c = 0; c < CELLS; ++c)
            assert_int_equal(w.points[c], 1);
    }
}

static void a_block_that_ends_on_a_point_leaves_it_to_the_next(void **state)
{
    (void)state;
    Walk w = {.next = 0};
    walk(&w, 0);
    assert_int_equal(w.points[0], 0);
    walk(&w, DSP_CELL);
    assert_int_equal(w.points[1], 0);
    walk(&w, 0);
    assert_int_equal(w.points[1], 0);
    walk(&w, 1);
    assert_int_equal(w.points[1], 1);
}

/* At most three at a time, and none where the block leaves none. */
static uint32_t some_cells(void *with, uint32_t from, uint32_t most)
{
    Walk *w = with;
    const uint32_t cells = w->next / DSP_CELL % 4 < most ? w->next / DSP_CELL % 4 : most;
    assert_int_equal(w->block + from, w->next);
    assert_in_range(most, 1, CELLS);
    for (uint32_t k = 0; k < cells; ++k, w->next += DSP_CELL)
        point(w);
    return cells;
}

static void several_cells_at_once_leave_the_last_point(void **state)
{
    (void)state;
    static const GridSteps quick = {point, piece, some_cells};
    uint32_t seed = seeded(3);
    for (int round = 0; round < 200; ++round) {
        Walk w = {.next = 0};
        while (w.next < LONG) {
            seed = seed * 1664525u + 1013904223u;
            const uint32_t n = (seed >> 16) % 300, left = LONG - w.next, m = n < left ? n : left;
            w.pieces = 0;
            const uint32_t points = grid_points(&w.grid, m);
            grid_walk(&w.grid, m, &quick, &w);
            w.block += m;
            assert_int_equal(w.next, w.block);
            assert_true(!points || w.pieces); /* the last point's cell came in pieces */
        }
        for (uint32_t c = 0; c < CELLS; ++c)
            assert_int_equal(w.points[c], 1);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_block_comes_by_every_cell),
        cmocka_unit_test(blocks_of_any_length_do_too),
        cmocka_unit_test(several_cells_at_once_leave_the_last_point),
        cmocka_unit_test(a_block_that_ends_on_a_point_leaves_it_to_the_next),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
