/* Cascades in lanes: the bits of one section after the other, whatever their number, however the samples are cut, with
 * and without vectors. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "design.h"
#include "plain_lanes.h"
#include "seeds.h"

enum { CELLS = 200, LENGTH = CELLS * DSP_CELL };

typedef void Run(const Svf *section, SvfState *state, uint32_t sections, double *x, uint32_t n);
typedef void Glide(const Svf *from, const Svf *goal, const double *way, SvfState *state, uint32_t sections, double *x,
                   uint32_t n);

/* -1..1 */
static double noise(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (double)(int32_t)*seed / 2147483648.0;
}

static Svf any_section(uint32_t *seed)
{
    const double hz = 3000.0 + 2950.0 * noise(seed), q = 2.0 + 1.7 * noise(seed), db = 12.0 * noise(seed);
    const Biquad b = noise(seed) > 0.0 ? design_bell(hz, db, q, 48000) : design_high_pass(0.1 * hz, q, 48000);
    return svf_from_biquad(&b);
}

/* A cascade, its goal, and how far each section is on its way there. */
typedef struct {
    uint32_t sections;
    Svf from[LANES_SECTIONS], goal[LANES_SECTIONS];
    double way[LANES_SECTIONS];
    SvfState state[LANES_SECTIONS];
} Row;

static Row any_row(uint32_t sections, uint32_t *seed)
{
    Row r = {.sections = sections};
    for (uint32_t i = 0; i < sections; ++i) {
        r.from[i] = any_section(seed);
        r.goal[i] = any_section(seed);
        r.way[i] = (i + 1.0) / DSP_CELL;
        r.state[i] = (SvfState){noise(seed), noise(seed)};
    }
    return r;
}

static void fill(double *x, uint32_t *seed)
{
    for (uint32_t t = 0; t < LENGTH; ++t)
        x[t] = noise(seed);
}

/* ---- Section by section, sample by sample ---- */

static void plainly(Row *r, double *x, uint32_t n)
{
    for (uint32_t t = 0; t < n; ++t)
        for (uint32_t i = 0; i < r->sections; ++i)
            x[t] = svf_step(&r->from[i], &r->state[i], x[t]);
}

static void plainly_gliding(Row *r, double *x, uint32_t n)
{
    for (uint32_t t = 0; t < n; ++t)
        for (uint32_t i = 0; i < r->sections; ++i) {
            const Svf now = svf_between(&r->from[i], &r->goal[i], r->way[i] + (double)t / DSP_CELL);
            x[t] = svf_step(&now, &r->state[i], x[t]);
        }
}

/* ---- The same ---- */

static void assert_same(const Row *a, const double *x, const Row *b, const double *y)
{
    assert_memory_equal(x, y, LENGTH * sizeof *x);
    assert_memory_equal(a->state, b->state, sizeof a->state);
}

/* Pieces of every length from nothing to a cell, and longer ones. */
static void compare_still(Run *run)
{
    static double x[LENGTH], y[LENGTH];
    uint32_t seed = seeded(1);
    for (uint32_t sections = 1; sections <= LANES_SECTIONS; ++sections) {
        Row a = any_row(sections, &seed), b = a;
        fill(x, &seed);
        memcpy(y, x, sizeof y);
        plainly(&a, x, LENGTH);
        for (uint32_t at = 0, n = 0; at < LENGTH; at += n, n = (n + 1) % 50) {
            n = n < LENGTH - at ? n : LENGTH - at;
            run(b.from, b.state, sections, y + at, n);
        }
        assert_same(&a, x, &b, y);
    }
}

static void compare_gliding(Glide *glide)
{
    static double x[LENGTH], y[LENGTH];
    uint32_t seed = seeded(2);
    for (uint32_t sections = 1; sections <= LANES_SECTIONS; ++sections) {
        Row a = any_row(sections, &seed), b = a;
        fill(x, &seed);
        memcpy(y, x, sizeof y);
        for (uint32_t cell = 0; cell < CELLS; ++cell) {
            const uint32_t first = cell % (DSP_CELL + 1);
            double *const now = y + (size_t)cell * DSP_CELL, rest[LANES_SECTIONS];
            plainly_gliding(&a, x + (size_t)cell * DSP_CELL, DSP_CELL);
            for (uint32_t i = 0; i < sections; ++i)
                rest[i] = b.way[i] + (double)first / DSP_CELL;
            glide(b.from, b.goal, b.way, b.state, sections, now, first);
            glide(b.from, b.goal, rest, b.state, sections, now + first, DSP_CELL - first);
        }
        assert_same(&a, x, &b, y);
    }
}

/* ---- Two channels ---- */

typedef void RunBoth(const Svf *section, SvfState *const *state, uint32_t sections, double *const *x, uint32_t n);
typedef void GlideBoth(const Svf *from, const Svf *goal, const double *way, SvfState *const *state, uint32_t sections,
                       double *const *x, uint32_t n);

static void compare_both(RunBoth *run)
{
    static double x[2][LENGTH], y[2][LENGTH];
    uint32_t seed = seeded(3);
    for (uint32_t sections = 1; sections <= LANES_SECTIONS; ++sections) {
        Row left = any_row(sections, &seed), right = left;
        memset(right.state, 0, sizeof right.state);
        Row a = left, b = right;
        for (int c = 0; c < 2; ++c)
            fill(x[c], &seed);
        memcpy(y, x, sizeof y);
        plainly(&left, x[0], LENGTH);
        plainly(&right, x[1], LENGTH);
        for (uint32_t at = 0, n = 0; at < LENGTH; at += n, n = (n + 1) % 50) {
            n = n < LENGTH - at ? n : LENGTH - at;
            run(a.from, (SvfState *[]){a.state, b.state}, sections, (double *[]){y[0] + at, y[1] + at}, n);
        }
        assert_same(&left, x[0], &a, y[0]);
        assert_same(&right, x[1], &b, y[1]);
    }
}

static void compare_both_gliding(GlideBoth *glide)
{
    static double x[2][LENGTH], y[2][LENGTH];
    uint32_t seed = seeded(4);
    for (uint32_t sections = 1; sections <= LANES_SECTIONS; ++sections) {
        Row left = any_row(sections, &seed), right = left, a = left, b = left;
        for (int c = 0; c < 2; ++c)
            fill(x[c], &seed);
        memcpy(y, x, sizeof y);
        for (uint32_t at = 0; at < LENGTH; at += DSP_CELL) {
            plainly_gliding(&left, x[0] + at, DSP_CELL);
            plainly_gliding(&right, x[1] + at, DSP_CELL);
            glide(a.from, a.goal, a.way, (SvfState *[]){a.state, b.state}, sections, (double *[]){y[0] + at, y[1] + at},
                  DSP_CELL);
        }
        assert_same(&left, x[0], &a, y[0]);
        assert_same(&right, x[1], &b, y[1]);
    }
}

static void two_channels_have_the_bits_of_each(void **state)
{
    (void)state;
    compare_both(lanes_run_both);
    compare_both_gliding(lanes_glide_both);
}

static void a_row_has_the_bits_of_one_after_the_other(void **state)
{
    (void)state;
    compare_still(lanes_run);
}

static void so_has_one_that_glides(void **state)
{
    (void)state;
    compare_gliding(lanes_glide);
}

static void all_have_them_without_vectors(void **state)
{
    (void)state;
    compare_still(plain_lanes_run);
    compare_gliding(plain_lanes_glide);
    compare_both(plain_lanes_run_both);
    compare_both_gliding(plain_lanes_glide_both);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_row_has_the_bits_of_one_after_the_other),
        cmocka_unit_test(so_has_one_that_glides),
        cmocka_unit_test(two_channels_have_the_bits_of_each),
        cmocka_unit_test(all_have_them_without_vectors),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
