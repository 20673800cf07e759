/* How a dip follows findings, from tables: to the same resonance it glides, for another one it fades out, jumps and
 * fades in. */
#include "tone_band.h"

#include "dsp.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define RATE 48000.0
#define TAU  TONE_GOAL_TAU
#define NEAR 1e-6

enum { TAU_CELLS = 375, LONG = 40 * TAU_CELLS };

static const Resonance at_500 = {500.0, 5.0, 0.5, RESONANCE_SURE + 9.0}; /* 4 dB of its 5 go */
static const Resonance at_550 = {550.0, 10.0, 0.7, RESONANCE_SURE + 9.0};
static const Resonance at_700 = {700.0, 5.0, 1.0, RESONANCE_SURE + 9.0};
static const Resonance none = {0.0, 0.0, 0.0, 0.0};

static ToneBand new_band(void)
{
    ToneBand b;
    tone_band_init(&b, RATE, TAU);
    return b;
}

static void follow(ToneBand *b, const Resonance *found, uint32_t cells)
{
    while (cells--)
        tone_band_follow(b, found, 12.0);
}

static bool is_at(const ToneBand *b, double hz, double db, double width)
{
    return fabs(b->octave.value - log2(hz)) < NEAR && fabs(b->db.value - db) < NEAR &&
           fabs(b->width.value - width) < NEAR;
}

/* Two poles have come 1 - 2 / e of the way after their time constant. */
static double way(double from, double now, double to)
{
    return (now - from) / (to - from) / (1.0 - 2.0 / exp(1.0));
}

static void the_surer_the_more_goes(void **state)
{
    (void)state;
    const double sure = RESONANCE_SURE;
    assert_true(fabs(tone_band_depth(&(Resonance){500, 6, 1, sure}, 12) + 3.6) < 1e-9);
    assert_true(fabs(tone_band_depth(&(Resonance){500, 6, 1, sure + 0.75}, 12) + 4.2) < 1e-9);
    assert_true(fabs(tone_band_depth(&(Resonance){500, 6, 1, sure + 9}, 12) + 4.8) < 1e-9);
    assert_true(tone_band_depth(&(Resonance){500, 6, 1, sure + 9}, 3) == -3.0);
    assert_true(tone_band_depth(&none, 3) == 0.0);
}

static void a_band_jumps_first_and_then_glides(void **state)
{
    (void)state;
    ToneBand b = new_band();
    tone_band_to(&b, 9.0, -6.0, 1.0);
    assert_true(b.octave.value == 9.0 && b.db.value == -6.0 && b.width.value == 1.0 && tone_band_settled(&b));
    tone_band_to(&b, 10.0, -12.0, 2.0);
    for (uint32_t cell = 0; cell < TAU_CELLS; ++cell) {
        smooth_step(&b.octave);
        smooth_step(&b.db);
        smooth_step(&b.width);
    }
    assert_true(fabs(way(9.0, b.octave.value, 10.0) - 1.0) < 0.01 && fabs(way(-6.0, b.db.value, -12.0) - 1.0) < 0.01);
    assert_true(fabs(way(1.0, b.width.value, 2.0) - 1.0) < 0.01);
    tone_band_restart(&b);
    assert_true(b.octave.value == 10.0 && b.db.value == -12.0 && b.width.value == 2.0 && tone_band_settled(&b));
    tone_band_to(&b, 8.0, -1.0, 0.5);
    assert_true(b.octave.value == 8.0 && b.db.value == -1.0 && b.width.value == 0.5);
}

static void it_moves_while_any_of_the_three_does(void **state)
{
    (void)state;
    for (int which = 0; which < 3; ++which) {
        ToneBand b = new_band();
        tone_band_to(&b, 9.0, -6.0, 1.0);
        tone_band_to(&b, which == 0 ? 9.1 : 9.0, which == 1 ? -6.1 : -6.0, which == 2 ? 1.1 : 1.0);
        assert_false(tone_band_settled(&b));
    }
}

/* What is known from before is there at once; what is found later fades in where it is. */
static void the_first_finding(void **state)
{
    (void)state;
    ToneBand known = new_band(), later = new_band();
    follow(&known, &at_500, 1);
    assert_true(is_at(&known, 500.0, -4.0, 0.5));
    follow(&later, &none, 3);
    assert_true(is_at(&later, 256.0, 0.0, 1.0) && tone_band_settled(&later));
    follow(&later, &at_500, 1);
    assert_true(later.octave.value == log2(500.0) && later.width.value == 0.5);
    assert_true(later.db.value < 0.0 && later.db.value > -0.01);
    follow(&later, &at_500, TAU_CELLS - 1);
    assert_true(fabs(way(0.0, later.db.value, -4.0) - 1.0) < 0.01);
    follow(&later, &at_500, LONG);
    assert_true(is_at(&later, 500.0, -4.0, 0.5) && tone_band_settled(&later));
}

static void to_the_same_resonance_it_glides(void **state)
{
    (void)state;
    ToneBand b = new_band();
    follow(&b, &at_500, 1);
    follow(&b, &at_550, TAU_CELLS); /* 0.138 octaves on */
    assert_true(fabs(way(log2(500.0), b.octave.value, log2(550.0)) - 1.0) < 0.01);
    assert_true(fabs(way(-4.0, b.db.value, -8.0) - 1.0) < 0.01 && fabs(way(0.5, b.width.value, 0.7) - 1.0) < 0.01);
    follow(&b, &at_550, LONG);
    assert_true(is_at(&b, 550.0, -8.0, 0.7) && tone_band_settled(&b));
    follow(&b, &at_500, TAU_CELLS); /* and down */
    assert_true(fabs(way(log2(550.0), b.octave.value, log2(500.0)) - 1.0) < 0.01);
}

/* It stays where it is, in width too, until less than 0.02 dB is left of it. */
static void for_another_one_it_fades(void **state)
{
    (void)state;
    ToneBand b = new_band();
    uint32_t cells = 0;
    follow(&b, &at_500, 1);
    for (; cells < LONG && b.octave.value == log2(500.0); ++cells) {
        const double before = b.db.value;
        follow(&b, &at_700, 1);
        const bool stays = b.octave.value == log2(500.0);
        assert_true(stays ? b.width.value == 0.5 && before <= -0.02 && b.db.value > before : before > -0.02);
    }
    assert_in_range(cells, 6 * TAU_CELLS, 8 * TAU_CELLS); /* (1 + 7.3) / e^7.3 = 0.02 / 4 */
    assert_true(b.octave.value == log2(700.0) && b.width.value == 1.0 && b.db.value > -0.02);
    follow(&b, &at_700, LONG);
    assert_true(is_at(&b, 700.0, -4.0, 1.0));
    follow(&b, &at_500, TAU_CELLS); /* and back */
    assert_true(b.octave.value == log2(700.0) && b.db.value > -4.0);
}

/* Where nothing is found any more the dip goes where it is, and then stands still; the next is another one. */
static void what_is_not_found_fades(void **state)
{
    (void)state;
    ToneBand b = new_band();
    follow(&b, &at_500, 1);
    follow(&b, &none, TAU_CELLS);
    assert_true(b.octave.value == log2(500.0) && b.width.value == 0.5);
    assert_true(fabs(way(-4.0, b.db.value, 0.0) - 1.0) < 0.01);
    follow(&b, &none, LONG);
    assert_true(is_at(&b, 500.0, 0.0, 0.5) && tone_band_settled(&b));
    follow(&b, &at_550, 1);
    assert_true(b.octave.value == log2(550.0) && b.width.value == 0.7);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_surer_the_more_goes),
        cmocka_unit_test(a_band_jumps_first_and_then_glides),
        cmocka_unit_test(it_moves_while_any_of_the_three_does),
        cmocka_unit_test(the_first_finding),
        cmocka_unit_test(to_the_same_resonance_it_glides),
        cmocka_unit_test(for_another_one_it_fades),
        cmocka_unit_test(what_is_not_found_fades),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
