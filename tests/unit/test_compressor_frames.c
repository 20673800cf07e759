/* What Compressor learns from, from tables of cells: frames, blocks, and the reduction shown. No sound. */
#include "compressor_frames.h"
#include "dsp.h"
#include "usual_reduction.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#define RATE 48000.0
enum { FRAME_CELLS = 75, PART_CELLS = FRAME_CELLS / COMPRESSOR_PARTS }; /* at that rate */

static const Curve curve = {-30.0, 0.6, 6.0};

static void assert_near(double value, double wanted, double within)
{
    assert_true(fabs(value - wanted) <= within);
}

static CompressorFrames *fresh(void)
{
    CompressorFrames *f = calloc(1, sizeof *f);
    assert_non_null(f);
    compressor_frames_init(f, RATE);
    return f;
}

/* Equal cells. */
static void feed(CompressorFrames *f, double level, uint32_t cells)
{
    const CompressorCell cell = {level, pow(10.0, (level - 10.0) / 10.0), 0.5};
    for (uint32_t i = 0; i < cells; ++i)
        compressor_frames_cell(f, &cell, &curve);
}

/* Of the voice, a frame of 10 ms in which it sounds for so many cells. */
static const CompressorFrame *hear(CompressorFrames *f, uint32_t sounding)
{
    const ListeningFrame frame = {.sounding = sounding};
    return compressor_frames_hear(f, &frame);
}

/* A frame of 50 ms of the voice. */
static const CompressorFrame *hear_whole(CompressorFrames *f)
{
    for (uint32_t i = 1; i < COMPRESSOR_PARTS; ++i)
        assert_null(hear(f, PART_CELLS));
    return hear(f, PART_CELLS);
}

/* However fast, every speed reads a steady level as that level: over the knee, in it, and where nothing is turned down.
 */
static void a_steady_level_is_read_as_it_is(void **state)
{
    static const double level[] = {-6.0, -20.0, -29.0};
    (void)state;
    for (size_t i = 0; i < sizeof level / sizeof *level; ++i) {
        CompressorFrames *f = fresh();
        feed(f, level[i], 200 * FRAME_CELLS);
        const CompressorFrame *frame = &f->frame[199 % COMPRESSOR_PENDING];
        for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s) {
            assert_near(frame->levels.level[s], level[i], 0.05);
            assert_near(frame->levels.weighed[s], level[i], 0.05);
        }
        assert_near(frame->level, level[i], 1e-9);
        assert_near(10.0 * log10(frame->levels.energy), level[i] - 10.0, 1e-9);
        assert_near(frame->reduction, 0.5, 1e-12);
        free(f);
    }
}

/* Where nothing is turned down, the level itself is read. */
static void nothing_turned_down_reads_the_level(void **state)
{
    CompressorFrames *f = fresh();
    (void)state;
    feed(f, -50.0, 10 * FRAME_CELLS);
    assert_near(f->frame[9].levels.level[0], -50.0, 1e-9);
    free(f);
}

/* After a jump up a slow attack has read less than a quick one, after one down a slow release reads more. */
static void speeds_differ_as_their_times_do(void **state)
{
    CompressorFrames *f = fresh();
    (void)state;
    feed(f, -50.0, 20 * FRAME_CELLS);
    feed(f, -10.0, FRAME_CELLS);
    const LevelsFrame *up = &f->frame[20 % COMPRESSOR_PENDING].levels;
    for (uint32_t s = LEVELS_RELEASES; s < LEVELS_SPEEDS; s += LEVELS_RELEASES)
        assert_true(up->level[s] < up->level[s - LEVELS_RELEASES] - 1.0);
    feed(f, -10.0, 20 * FRAME_CELLS);
    feed(f, -50.0, FRAME_CELLS);
    const LevelsFrame *down = &f->frame[41 % COMPRESSOR_PENDING].levels;
    for (uint32_t r = 1; r < LEVELS_RELEASES; ++r)
        assert_true(down->level[r] > down->level[r - 1] + 1.0);
    free(f);
}

/* A moved threshold: the reductions that are followed go on standing for the same level at once. */
static void a_moved_threshold_moves_no_level(void **state)
{
    const Curve lower = {-36.0, 0.6, 6.0};
    const CompressorCell cell = {-10.0, 0.01, 0.0};
    CompressorFrames *f = fresh();
    (void)state;
    feed(f, -10.0, 200 * FRAME_CELLS);
    for (uint32_t i = 0; i < FRAME_CELLS; ++i)
        compressor_frames_cell(f, &cell, &lower);
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s)
        assert_near(f->frame[200 % COMPRESSOR_PENDING].levels.level[s], -10.0, 0.01);
    free(f);
}

/* A frame waits for what is heard of all its parts, and is voiced where a voice sounds in half of its cells. */
static void frames_wait_for_the_voice(void **state)
{
    CompressorFrames *f = fresh();
    (void)state;
    feed(f, -20.0, 10 * FRAME_CELLS);
    assert_null(hear(f, 15));
    assert_null(hear(f, 15));
    assert_null(hear(f, 7)); /* of 75 cells one less than half */
    assert_null(hear(f, 0));
    const CompressorFrame *frame = hear(f, 0);
    assert_true(frame && frame->sounding == 37 && !frame->voiced);
    for (uint32_t i = 1; i < COMPRESSOR_PARTS; ++i)
        assert_null(hear(f, 8));
    frame = hear(f, 6);
    assert_true(frame && frame->sounding == 38 && frame->voiced);
    assert_int_equal(f->answered, 2);
    free(f);
}

/* Exactly half of a frame's cells is enough, where their number is even. */
static void half_of_a_frame_is_voiced(void **state)
{
    CompressorFrames *f = fresh();
    (void)state;
    compressor_frames_init(f, 51200.0);
    assert_int_equal(f->frame_cells, 80);
    for (uint32_t i = 1; i < COMPRESSOR_PARTS; ++i)
        assert_null(hear(f, 8));
    const CompressorFrame *frame = hear(f, 8);
    assert_true(frame && frame->voiced);
    free(f);
}

/* From the eighth frame on, with every second one: the eight that ended with it, in order. */
static void blocks_are_eight_frames(void **state)
{
    CompressorFrames *f = fresh();
    const LevelsFrame *block[LEVELS_BLOCK];
    uint32_t blocks = 0;
    (void)state;
    for (uint32_t n = 1; n <= 2 * COMPRESSOR_PENDING + 1; ++n) {
        feed(f, -20.0 - n % 7, FRAME_CELLS);
        const CompressorFrame *last = hear_whole(f);
        assert_true(last && f->answered == n);
        const bool ends = compressor_frames_block(f, block);
        assert_int_equal(ends, n >= LEVELS_BLOCK && n % 2 == 0);
        blocks += ends;
        for (uint32_t i = 0; ends && i < LEVELS_BLOCK; ++i)
            assert_ptr_equal(block[i], &f->frame[(n - LEVELS_BLOCK + i) % COMPRESSOR_PENDING].levels);
        if (ends)
            assert_ptr_equal(block[LEVELS_BLOCK - 1], &last->levels);
    }
    assert_int_equal(blocks, COMPRESSOR_PENDING - 3);
    free(f);
}

static void a_reset_forgets(void **state)
{
    CompressorFrames *f = fresh(), *other = fresh();
    (void)state;
    feed(f, -10.0, 1000);
    hear(f, 15);
    compressor_frames_reset(f);
    for (uint32_t i = 0; i < 5; ++i) {
        feed(f, -20.0, FRAME_CELLS);
        feed(other, -20.0, FRAME_CELLS);
        const LevelsFrame *a = &hear_whole(f)->levels, *b = &hear_whole(other)->levels;
        for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s)
            assert_true(a->level[s] == b->level[s] && a->weighed[s] == b->weighed[s]);
    }
    free(f);
    free(other);
}

/* Frames of 50 ms to a cell, so that both count the same ones: 75 cells at 48 kHz, 69 at 44.1 kHz. */
static void the_voice_is_heard_in_the_same_frames(void **state)
{
    static const double rates[] = {8000.0, 44100.0, 48000.0, 384000.0};
    (void)state;
    for (size_t i = 0; i < sizeof rates / sizeof *rates; ++i) {
        CompressorFrames *f = fresh();
        compressor_frames_init(f, rates[i]);
        const ListeningGrid grid = compressor_frames_grid(rates[i]);
        assert_true(grid.whole_cells && grid.samples == f->frame_cells * DSP_CELL && grid.frames == COMPRESSOR_PARTS);
        assert_near(grid.samples / rates[i], 0.05, 0.5 * DSP_CELL / rates[i]);
        free(f);
    }
}

/* ---- The reduction shown ---- */

/* The median of the loudest quarter, from the twentieth frame on. */
static void usual_reduction_is_that_of_the_loudest_quarter(void **state)
{
    UsualReduction u = {0};
    (void)state;
    for (int i = 0; i < 19; ++i)
        usual_reduction_add(&u, 5.0);
    assert_true(u.usual == 0.0);
    usual_reduction_add(&u, 5.0);
    assert_true(u.usual == 5.0);
    usual_reduction_restart(&u, -20.0);
    for (int i = 0; i < 80; ++i)
        usual_reduction_add(&u, 0.125 * i);
    assert_near(u.usual, 0.125 * 70.0, 0.126);
    assert_true(u.threshold == -20.0);
    usual_reduction_restart(&u, -21.0);
    assert_true(u.frames == 0 && u.usual > 8.0); /* shown until there is another */
    for (int i = 0; i < 20; ++i)
        usual_reduction_add(&u, 1000.0);
    assert_true(u.usual == (USUAL_REDUCTION_BINS - 1) / 8.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_steady_level_is_read_as_it_is),
        cmocka_unit_test(nothing_turned_down_reads_the_level),
        cmocka_unit_test(speeds_differ_as_their_times_do),
        cmocka_unit_test(a_moved_threshold_moves_no_level),
        cmocka_unit_test(frames_wait_for_the_voice),
        cmocka_unit_test(half_of_a_frame_is_voiced),
        cmocka_unit_test(blocks_are_eight_frames),
        cmocka_unit_test(a_reset_forgets),
        cmocka_unit_test(the_voice_is_heard_in_the_same_frames),
        cmocka_unit_test(usual_reduction_is_that_of_the_loudest_quarter),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
