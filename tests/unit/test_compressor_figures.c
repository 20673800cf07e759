/* What Compressor has learned and what it works out of it, from tables of frames: no sound. */
#include "compressor_figures.h"
#include "compressor_memory.h"
#include "dsp.h"
#include "learned_room.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const CompressorWish usual = {.wanted = true,
                                     .reduction = 6.0,
                                     .curve = {-24.0, 0.6, 6.0},
                                     .attack = 0.001,
                                     .release = 0.01,
                                     .even_loudness = true,
                                     .blend = 1.0};

static void assert_near(double value, double wanted, double within)
{
    assert_true(fabs(value - wanted) <= within);
}

/* Every speed reads `level`, 10 dB over the energy. */
static LevelsFrame frame_at(double level)
{
    LevelsFrame f = {.energy = db_to_power(level - 10.0)};
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s)
        f.level[s] = f.weighed[s] = level;
    return f;
}

/* So many frames of that level; a block ends with every second one. */
static void hear(CompressorMemory *m, double level, uint32_t frames, bool voiced)
{
    const LevelsFrame f = frame_at(level);
    const LevelsFrame *const block[LEVELS_BLOCK] = {&f, &f, &f, &f, &f, &f, &f, &f};
    for (uint32_t i = 0; i < frames; ++i)
        compressor_memory_add(m, &f, voiced, i % 2 ? block : NULL);
}

static CompressorMemory *memory_of(double level, uint32_t frames)
{
    CompressorMemory *m = calloc(1, sizeof *m);
    assert_non_null(m);
    hear(m, level, frames, true);
    return m;
}

static CompressorFigures figures_of(const CompressorMemory *m, const CompressorWish *wish)
{
    CompressorFigures f = {0};
    compressor_figures_start(&f, compressor_memory_in_force(m), wish);
    return f;
}

/* ---- The memory ---- */

static uint32_t blocks_of(const Levels *l)
{
    uint32_t blocks = 0;
    for (uint32_t i = 0; i < LEVELS_FINE; ++i)
        blocks += l->blocks[i];
    return blocks;
}

/* Twenty voiced frames are enough; what has no voice counts in blocks alone, once a voice was heard. */
static void enough_is_twenty_voiced_frames(void **state)
{
    CompressorMemory *m = memory_of(-20.0, 0);
    (void)state;
    hear(m, -20.0, 100, false);
    assert_true(m->filling.frames == 0 && blocks_of(&m->filling) == 0);
    hear(m, -20.0, LEVELS_ENOUGH - 1, true);
    assert_null(compressor_memory_in_force(m));
    hear(m, -50.0, 2, false);
    assert_null(compressor_memory_in_force(m));
    assert_int_equal(blocks_of(&m->filling), (LEVELS_ENOUGH - 1) / 2 + 1);
    hear(m, -20.0, 1, true);
    assert_ptr_equal(compressor_memory_in_force(m), &m->filling);
    assert_int_equal(m->version, 100 + LEVELS_ENOUGH - 1 + 2 + 1);
    free(m);
}

static bool same_levels(const Levels *a, const Levels *b)
{
    return !memcmp(a, b, sizeof *a);
}

static void take_in(CompressorMemory *m, const Learned *l)
{
    learned_put(&compressor_schema, m, l);
    compressor_memory_replaced(m);
}

static void a_fresh_start_keeps_what_was_enough(void **state)
{
    CompressorMemory *m = memory_of(-20.0, 40);
    (void)state;
    const Levels old = *compressor_memory_in_force(m);
    compressor_memory_start_afresh(m);
    hear(m, -30.0, LEVELS_ENOUGH - 1, true);
    assert_ptr_equal(compressor_memory_in_force(m), &m->kept);
    assert_true(same_levels(&m->kept, &old));
    compressor_memory_start_afresh(m); /* too little: the old one stays */
    assert_ptr_equal(compressor_memory_in_force(m), &m->kept);
    assert_true(same_levels(&m->kept, &old));
    hear(m, -30.0, LEVELS_ENOUGH, true);
    assert_ptr_equal(compressor_memory_in_force(m), &m->filling);
    assert_int_equal(m->kept.frames, 0);
    free(m);
}

/* Row by row, with a mark in every corner. */
static void a_stored_memory_comes_back(void **state)
{
    CompressorMemory *m = memory_of(-20.0, 41), *restored = memory_of(-3.0, 90);
    Learned l = LEARNED_WITH_ROOM;
    (void)state;
    compressor_memory_start_afresh(m);
    hear(m, -31.0, 7, true);
    Levels *const both[] = {&m->filling, &m->kept};
    for (uint32_t i = 0; i < 2; ++i)
        for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s) {
            both[i]->count[s][LEVELS_BINS - 1] = s ? 7 + s : 0;
            both[i]->energy[s][0][LEVELS_OVERS - 1] = 100 + s;
            both[i]->energy[s][LEVELS_ROWS - 1][0] = 200 + s;
        }
    learned_get(&compressor_schema, m, &l);
    learned_check(&compressor_schema, &l);
    take_in(restored, &l);
    assert_true(same_levels(&restored->filling, &m->filling));
    assert_true(same_levels(&restored->kept, &m->kept));
    l.count[1] = 0; /* one field of the memory being filled is missing: none of it counts */
    take_in(restored, &l);
    assert_int_equal(restored->filling.frames, 0);
    assert_ptr_equal(compressor_memory_in_force(restored), &restored->kept);
    hear(m, -31.0, LEVELS_ENOUGH, true); /* enough: what was kept is not stored any more */
    learned_get(&compressor_schema, m, &l);
    assert_int_equal(l.count[3], 0);
    free(m);
    free(restored);
}

/* What was kept is only ever enough; a session that says otherwise keeps nothing. */
static void too_little_is_not_kept(void **state)
{
    CompressorMemory *m = memory_of(-20.0, LEVELS_ENOUGH), *restored = memory_of(-20.0, 0);
    Learned l = LEARNED_WITH_ROOM;
    (void)state;
    compressor_memory_start_afresh(m);
    learned_get(&compressor_schema, m, &l);
    take_in(restored, &l);
    assert_int_equal(restored->kept.frames, LEVELS_ENOUGH);
    float *levels = learned_field(&compressor_schema, &l, 3);
    for (uint32_t b = 0; b < LEVELS_BINS; ++b)
        levels[b] = levels[b] > 0.f ? (float)(LEVELS_ENOUGH - 1) : 0.f;
    take_in(restored, &l);
    assert_true(restored->kept.frames == 0 && !compressor_memory_in_force(restored));
    learned_get(&compressor_schema, restored, &l);
    assert_int_equal(l.count[3], 0);
    free(m);
    free(restored);
}

/* Where the stored fields lie is a promise to old sessions: speed by speed, row by row. */
static void the_order_of_what_is_stored(void **state)
{
    CompressorMemory *m = memory_of(-20.0, 20);
    Learned l = LEARNED_WITH_ROOM;
    (void)state;
    m->filling.count[2][5] = 77 * LEVELS_PARTS;
    m->filling.energy[3][4][6] = 256 * 9;
    learned_get(&compressor_schema, m, &l);
    assert_true(learned_field(&compressor_schema, &l, 0)[2 * LEVELS_BINS + 5] == 77.f);
    assert_true(learned_field(&compressor_schema, &l, 2)[(3 * LEVELS_ROWS + 4) * LEVELS_OVERS + 6] == 9.f);
    free(m);
}

/* Takes the lowest rows out of what is stored, as it was before they were there: 25 rows, the same highest one. */
static void make_old(Learned *l)
{
    enum { OLD = 25, LACKS = LEVELS_ROWS - OLD };
    float *const blocks = learned_field(&compressor_schema, l, 1), *energies = learned_field(&compressor_schema, l, 2);
    memmove(blocks, blocks + (size_t)LACKS * LEVELS_STEP, sizeof *blocks * OLD * LEVELS_STEP);
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s)
        memmove(energies + (size_t)s * OLD * LEVELS_OVERS, energies + (size_t)(s * LEVELS_ROWS + LACKS) * LEVELS_OVERS,
                sizeof *energies * OLD * LEVELS_OVERS);
    l->count[1] = OLD * LEVELS_STEP;
    l->count[2] = LEVELS_SPEEDS * OLD * LEVELS_OVERS;
}

static void an_old_session_is_read(void **state)
{
    CompressorMemory *m = memory_of(-20.0, 41), *restored = memory_of(-3.0, 90);
    Learned l = LEARNED_WITH_ROOM;
    (void)state;
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s)
        m->filling.energy[s][LEVELS_ROWS - 25][0] = m->filling.energy[s][LEVELS_ROWS - 1][5] = 100 + s;
    learned_get(&compressor_schema, m, &l);
    make_old(&l);
    learned_check(&compressor_schema, &l);
    take_in(restored, &l);
    assert_true(same_levels(&restored->filling, &m->filling));
    l.count[1] -= LEVELS_STEP; /* does not belong to these energies */
    take_in(restored, &l);
    assert_null(compressor_memory_in_force(restored));
    l.count[2] -= LEVELS_SPEEDS * LEVELS_OVERS; /* 24 rows there never were */
    take_in(restored, &l);
    assert_null(compressor_memory_in_force(restored));
    free(m);
    free(restored);
}

/* ---- The figures ---- */

static void nothing_learned_turns_nothing_down(void **state)
{
    CompressorMemory *m = memory_of(-20.0, LEVELS_ENOUGH - 1);
    (void)state;
    const CompressorFigures f = figures_of(m, &usual);
    assert_true(!f.known && f.makeup == 0.0 && f.stage == 0);
    CompressorWish wish = usual;
    wish.curve.threshold = compressor_figures_threshold(&f, &usual);
    assert_true(curve_reduction(&wish.curve, 0.0) == 0.0);
    wish.wanted = false; /* but by hand */
    wish.curve.threshold = -24.0;
    assert_true(compressor_figures_threshold(&f, &wish) == -24.0);
    const Curve ahead = compressor_figures_curve_ahead(&f, &usual, -12.0); /* the loudest less 3 dB: turned down by 6 */
    assert_near(curve_reduction(&ahead, -15.0), 6.0, 1e-9);
    free(m);
}

/* An even voice is turned down by what is wanted, and the makeup gives that back. */
static void the_wish_is_met(void **state)
{
    (void)state;
    for (double level = -40.0; level <= 0.0; level += 5.0) {
        CompressorMemory *m = memory_of(level, 60);
        const CompressorFigures f = figures_of(m, &usual);
        Curve curve = usual.curve;
        curve.threshold = compressor_figures_threshold(&f, &usual);
        assert_near(f.loud, level, 0.26); /* half a bin */
        assert_near(curve_reduction(&curve, level), 6.0, 0.6 * 0.26);
        assert_near(f.makeup, curve_reduction(&curve, level), 0.25);
        free(m);
    }
}

/* The middle half of the loudest quarter: its ends are one frame in sixteen and three. */
static void the_loudest_quarter_counts(void **state)
{
    CompressorMemory *m = memory_of(-30.0, 700);
    (void)state;
    hear(m, -10.0, 46, true);
    assert_near(figures_of(m, &usual).loud_target, -30.0, 1e-9);
    hear(m, -10.0, 54, true);
    assert_near(figures_of(m, &usual).loud_target, -20.0, 1e-9);
    hear(m, -10.0, 62, true);
    assert_near(figures_of(m, &usual).loud_target, -10.0, 1e-9);
    free(m);
}

static void out_of_reach_is_the_lowest_threshold(void **state)
{
    CompressorMemory *m = memory_of(-50.0, 60);
    CompressorWish wish = usual;
    (void)state;
    wish.reduction = 12.0;
    CompressorFigures f = figures_of(m, &wish);
    assert_true(compressor_figures_threshold(&f, &wish) == -60.0);
    wish.curve.slope = 0.0; /* a ratio of 1 turns nothing down, however low the threshold */
    f = figures_of(m, &wish);
    assert_true(compressor_figures_threshold(&f, &wish) == -60.0);
    assert_near(f.makeup, 0.0, 1e-9);
    free(m);
}

/* By hand the makeup is that of the hand threshold; and off, there is none. */
static void by_hand(void **state)
{
    CompressorMemory *m = memory_of(-10.0, 60);
    CompressorWish wish = usual;
    (void)state;
    wish.wanted = false;
    CompressorFigures f = figures_of(m, &wish);
    assert_true(compressor_figures_threshold(&f, &wish) == -24.0);
    assert_near(f.makeup, curve_reduction(&wish.curve, -10.0), 0.25);
    assert_true(compressor_figures_curve_ahead(&f, &wish, -12.0).threshold == -24.0);
    wish.even_loudness = false;
    f = figures_of(m, &wish);
    assert_true(f.makeup == 0.0 && f.found > 5.0);
    free(m);
}

/* The first figure starts with a threshold over the voice, 3 dB and the knee's half, and moves by so much a step; the
 * makeup falls at once. */
static void learned_figures_move_slowly(void **state)
{
    CompressorMemory *m = memory_of(-10.0, 60);
    CompressorFigures f = {0};
    CompressorWish wish = usual;
    (void)state;
    for (uint32_t i = 0; i < COMPRESSOR_FIGURES_STEPS; ++i)
        compressor_figures_step(&f, compressor_memory_in_force(m), &usual);
    assert_true(f.known && f.stage == 0);
    const double before = compressor_figures_threshold(&f, &usual);
    assert_near(before, f.loud_target + 3.0 + 3.0, 1e-9);
    assert_near(f.found, 0.0, 1e-9); /* as nothing is turned down yet */
    compressor_figures_move(&f, &usual, 0.25);
    assert_near(compressor_figures_threshold(&f, &usual), before - 0.25, 1e-9);
    for (int i = 0; i < 200; ++i)
        compressor_figures_move(&f, &usual, 0.25);
    assert_near(f.loud, f.loud_target, 1e-12);
    for (uint32_t i = 0; i < COMPRESSOR_FIGURES_STEPS; ++i)
        compressor_figures_step(&f, compressor_memory_in_force(m), &usual);
    compressor_figures_move(&f, &usual, 0.25);
    assert_true(f.found > 5.0);
    assert_near(f.makeup, 0.25, 1e-12);
    for (int i = 0; i < 200; ++i)
        compressor_figures_move(&f, &usual, 0.25);
    assert_near(f.makeup, f.found, 1e-12);
    wish.even_loudness = false;
    compressor_figures_move(&f, &wish, 0.25);
    assert_true(f.makeup == 0.0);
    free(m);
}

/* In steps, so that a session restored while it runs holds at once; one that knows nothing starts over. */
static void a_restored_memory_holds_at_once(void **state)
{
    CompressorMemory *m = memory_of(-10.0, 60), *other = memory_of(-30.0, 60);
    CompressorFigures f = figures_of(m, &usual);
    (void)state;
    compressor_figures_step(&f, compressor_memory_in_force(m), &usual);
    compressor_figures_replaced(&f, true);
    for (uint32_t i = 0; i < COMPRESSOR_FIGURES_STEPS; ++i)
        compressor_figures_step(&f, compressor_memory_in_force(other), &usual);
    assert_near(f.loud, -30.0, 0.3);
    compressor_figures_replaced(&f, false);
    assert_true(!f.known && f.found == 0.0);
    compressor_figures_replaced(&f, true); /* enough, but nothing is worked out yet */
    assert_true(!f.known && compressor_figures_threshold(&f, &usual) == LEVELS_HIGH);
    free(m);
    free(other);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(enough_is_twenty_voiced_frames),
        cmocka_unit_test(a_fresh_start_keeps_what_was_enough),
        cmocka_unit_test(a_stored_memory_comes_back),
        cmocka_unit_test(too_little_is_not_kept),
        cmocka_unit_test(the_order_of_what_is_stored),
        cmocka_unit_test(an_old_session_is_read),
        cmocka_unit_test(nothing_learned_turns_nothing_down),
        cmocka_unit_test(the_wish_is_met),
        cmocka_unit_test(the_loudest_quarter_counts),
        cmocka_unit_test(out_of_reach_is_the_lowest_threshold),
        cmocka_unit_test(by_hand),
        cmocka_unit_test(learned_figures_move_slowly),
        cmocka_unit_test(a_restored_memory_holds_at_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
