/* A section four samples at a time: the sound of svf_step(), and the same bits however the samples are cut, with and
 * without vectors. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "design.h"
#include "plain_svf_block.h"

enum { CELLS = 200, LENGTH = CELLS * DSP_CELL };

static Svf section_of(double hz, double q)
{
    const Biquad b = design_high_pass(hz, q, 48000);
    return svf_from_biquad(&b);
}

static void fill(float *x, uint32_t *seed)
{
    for (uint32_t t = 0; t < LENGTH; ++t) {
        *seed = *seed * 1664525u + 1013904223u;
        x[t] = (float)((double)(int32_t)*seed / 2147483648.0);
    }
}

static double worst_of(double hz, double q)
{
    const Svf section = section_of(hz, q);
    SvfBlock b;
    SvfState plain = {0}, state = {0};
    SvfBegun begun = {.filled = 0};
    float x[LENGTH], y[LENGTH];
    uint32_t seed = 1;
    double worst = 0.0;
    fill(x, &seed);
    svf_block_of(&b, &section);
    for (uint32_t at = 0; at < LENGTH; at += DSP_CELL)
        svf_block_run(&b, &state, &begun, x + at, y + at, DSP_CELL);
    for (uint32_t t = 0; t < LENGTH; ++t)
        worst = fmax(worst, fabs(svf_step(&section, &plain, (double)x[t]) - (double)y[t]));
    return fmax(worst, fmax(fabs(plain.s1 - state.s1), fabs(plain.s2 - state.s2)));
}

static void sounds_as_sample_by_sample(void **state)
{
    (void)state;
    double worst = 0.0;
    for (double hz = 20.0; hz < 23000.0; hz *= 3.0)
        worst = fmax(worst, fmax(worst_of(hz, 0.5), worst_of(hz, 4.0)));
    assert_true(worst < 3e-7); /* what rounding to float leaves */
}

/* The state is met to a double's precision, for it is never rounded to float. */
static void ends_in_the_same_state(void **state)
{
    (void)state;
    const Svf section = section_of(100.0, 0.7);
    SvfBlock b;
    SvfState plain = {0}, own = {0};
    SvfBegun begun = {.filled = 0};
    float x[LENGTH], y[LENGTH];
    uint32_t seed = 2;
    fill(x, &seed);
    svf_block_of(&b, &section);
    for (uint32_t at = 0; at < LENGTH; at += DSP_CELL)
        svf_block_run(&b, &own, &begun, x + at, y + at, DSP_CELL);
    for (uint32_t t = 0; t < LENGTH; ++t)
        svf_step(&section, &plain, (double)x[t]);
    assert_true(fabs(plain.s1 - own.s1) < 1e-12 && fabs(plain.s2 - own.s2) < 1e-12);
}

typedef void Run(const SvfBlock *b, SvfState *s, SvfBegun *begun, const float *in, float *out, uint32_t n);

/* Pieces of any length within a cell; at each grid point no block is under way. */
static SvfState in_pieces(Run *run, const SvfBlock *b, const float *x, float *y, uint32_t *seed)
{
    SvfState state = {0};
    SvfBegun begun = {.filled = 0};
    for (uint32_t at = 0, n; at < LENGTH; at += n) {
        const uint32_t left = DSP_CELL - at % DSP_CELL;
        *seed = *seed * 1664525u + 1013904223u;
        n = (*seed >> 16) % left + 1;
        run(b, &state, &begun, x + at, y + at, n);
        assert_int_equal(begun.filled, (at + n) % SVF_BLOCK);
    }
    return state;
}

static void any_division_gives_the_same_bits(void **state)
{
    (void)state;
    const Svf section = section_of(150.0, 0.7);
    SvfBlock b;
    float x[LENGTH], whole[LENGTH], y[LENGTH];
    uint32_t seed = 3;
    SvfState end = {0};
    SvfBegun begun = {.filled = 0};
    fill(x, &seed);
    svf_block_of(&b, &section);
    for (uint32_t at = 0; at < LENGTH; at += DSP_CELL)
        svf_block_run(&b, &end, &begun, x + at, whole + at, DSP_CELL);
    for (uint32_t round = 0; round < 20; ++round) {
        const SvfState own = in_pieces(round % 2 ? plain_svf_block_run : svf_block_run, &b, x, y, &seed);
        assert_memory_equal(whole, y, sizeof y);
        assert_memory_equal(&end, &own, sizeof own);
    }
}

static void may_work_in_place(void **state)
{
    (void)state;
    const Svf section = section_of(150.0, 0.7);
    SvfBlock b, plain;
    float x[LENGTH], y[LENGTH];
    uint32_t seed = 4;
    fill(x, &seed);
    svf_block_of(&b, &section);
    plain_svf_block_of(&plain, &section);
    assert_memory_equal(&b, &plain, sizeof b);
    in_pieces(svf_block_run, &b, x, y, &seed);
    in_pieces(svf_block_run, &b, x, x, &seed);
    assert_memory_equal(x, y, sizeof y);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sounds_as_sample_by_sample),
        cmocka_unit_test(ends_in_the_same_state),
        cmocka_unit_test(any_division_gives_the_same_bits),
        cmocka_unit_test(may_work_in_place),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
