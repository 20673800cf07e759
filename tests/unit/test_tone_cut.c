/* Where the low cut goes: what listening found, no faster than 0.25 octaves a second, or the hand's. */
#include "tone_cut.h"

#include "low_cut.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define RATE 48000.0

enum { SECOND = 1500 /* cells */ };

static ToneCut cut(void)
{
    ToneCut c = {.rate = 0.0};
    tone_cut_init(&c, RATE);
    tone_cut_set(&c, TONE_CUT_12, 80.0);
    return c;
}

static void a_new_note_is_followed_slowly(void **state)
{
    (void)state;
    ToneCut c = cut();
    const double low = log2(tone_cut_found(150.0, TONE_CUT_12)), high = log2(tone_cut_found(400.0, TONE_CUT_12));
    assert_true(high > low + 0.5);
    tone_cut_aim(&c, 150.0, true, true);
    assert_true(c.goal == low && c.octave.target == low);
    for (int cell = 0; cell < SECOND; ++cell)
        tone_cut_aim(&c, 400.0, true, false);
    assert_true(fabs(c.goal - low - 0.25) < 1e-9);
    for (int cell = 0; cell < 8 * SECOND; ++cell)
        tone_cut_aim(&c, 400.0, true, false);
    assert_true(fabs(c.goal - high) < 1e-9);
    tone_cut_aim(&c, 150.0, true, true);
    assert_true(c.goal == low);
}

static void nothing_known_is_the_same_for_every_slope(void **state)
{
    (void)state;
    for (ToneSlope slope = TONE_CUT_OFF; slope < TONE_SLOPES; ++slope) {
        ToneCut c = cut();
        tone_cut_set(&c, slope, 80.0);
        tone_cut_aim(&c, 0.0, true, true);
        assert_true(c.octave.target == log2(LOW_CUT_UNKNOWN));
        tone_cut_aim(&c, 0.0, false, true);
        assert_true(c.octave.target == log2(80.0));
        tone_cut_aim(&c, 200.0, true, true);
        assert_true(c.octave.target == log2(tone_cut_found(200.0, slope)));
    }
}

/* Two equal poles of 20 ms: after 20 ms 1 - 2 / e of the way, which 30 cells are. */
static void it_glides_there(void **state)
{
    (void)state;
    ToneCut c = cut();
    Svf section[TONE_CUT_SECTIONS];
    tone_cut_aim(&c, 0.0, false, true);
    assert_true(tone_cut_settled(&c));
    tone_cut_set(&c, TONE_CUT_12, 160.0);
    tone_cut_aim(&c, 0.0, false, false);
    assert_false(tone_cut_settled(&c));
    for (int cell = 0; cell < 30; ++cell)
        tone_cut_step(&c, section);
    assert_true(fabs(c.octave.value - log2(80.0) - (1.0 - 2.0 * exp(-1.0))) < 0.02);
    tone_cut_restart(&c);
    assert_true(tone_cut_settled(&c) && c.octave.value == log2(160.0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_new_note_is_followed_slowly),
        cmocka_unit_test(nothing_known_is_the_same_for_every_slope),
        cmocka_unit_test(it_glides_there),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
