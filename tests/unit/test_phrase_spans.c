/* Where the phrases of a take lie, from tables of frames. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "phrase_spans.h"
#include "units.h"

#define NOISE (-70.0) /* dB */
#define VOICE (-20.0)
#define NEAR  1e-6  /* s */
#define FRAME 0.011 /* s: bands are means of three frames, so what sounds in them is longer by one on either side */

enum { FRAMES = 1000, SPANS = 20 };

static TakeFrame frame[FRAMES];
static PhraseSpan span[SPANS];

/* ---- What a frame may hold ---- */

static TakeFrame made(double db, double hz, const double share[REST_BANDS])
{
    TakeFrame f = {.weighted = (float)db_to_power(db), .hz = (float)hz};
    for (int b = 0; b < REST_BANDS; ++b)
        f.band[b] = (float)(share[b] * db_to_power(db));
    return f;
}

static void fill(double from, double to, TakeFrame f)
{
    for (uint32_t i = (uint32_t)lround(from / TAKE_FRAME); i < (uint32_t)lround(to / TAKE_FRAME); ++i)
        frame[i] = f;
}

static void noise(void)
{
    fill(0.0, FRAMES * TAKE_FRAME, made(NOISE, 0.0, (const double[]){0.25, 0.25, 0.25, 0.25}));
}

static void sing(double from, double to, double db)
{
    fill(from, to, made(db, 220.0, (const double[]){0.3, 0.4, 0.2, 0.1}));
}

/* s, f, t: high, and without a pitch. */
static void hiss(double from, double to, double db)
{
    fill(from, to, made(db, 0.0, (const double[]){0.01, 0.04, 0.15, 0.8}));
}

static void breathe(double from, double to, double db)
{
    fill(from, to, made(db, 0.0, (const double[]){0.05, 0.45, 0.4, 0.1}));
}

static void knock(double from, double to, double db)
{
    fill(from, to, made(db, 0.0, (const double[]){0.9, 0.05, 0.03, 0.02}));
}

static void assert_near(double is, double wanted, double within)
{
    assert_true(fabs(is - wanted) <= within);
}

static uint32_t found(void)
{
    return phrase_spans(frame, FRAMES, span, SPANS);
}

static void assert_span(uint32_t i, double from, double to)
{
    assert_near(span[i].from, from, FRAME);
    assert_near(span[i].to, to, FRAME);
}

/* ---- Phrases and rests ---- */

static void a_rest_of_300_ms_parts_two_phrases(void **state)
{
    (void)state;
    noise();
    sing(1.0, 3.0, VOICE);
    sing(3.33, 5.0, VOICE - 6.0);
    assert_int_equal(found(), 2);
    assert_span(0, 1.0, 3.0);
    assert_span(1, 3.33, 5.0);
    assert_near(span[0].level, VOICE, 0.05);
    assert_near(span[1].level, VOICE - 6.0, 0.06);
    assert_near(span[0].voiced, 2.0, NEAR);
}

static void a_shorter_one_does_not(void **state)
{
    (void)state;
    noise();
    sing(1.0, 3.0, VOICE);
    sing(3.27, 5.0, VOICE);
    assert_int_equal(found(), 1);
    assert_span(0, 1.0, 5.0);
}

static void a_consonant_makes_no_rest(void **state)
{
    (void)state;
    noise();
    sing(1.0, 3.0, VOICE);
    hiss(3.0, 3.5, VOICE - 25.0);
    sing(3.5, 5.0, VOICE);
    assert_int_equal(found(), 1);
    assert_span(0, 1.0, 5.0);
}

static void a_breath_does(void **state)
{
    (void)state;
    noise();
    sing(1.0, 3.0, VOICE);
    breathe(3.2, 3.6, VOICE - 20.0);
    sing(3.7, 5.0, VOICE);
    assert_int_equal(found(), 2);
    assert_span(0, 1.0, 3.0);
    assert_span(1, 3.7, 5.0);
}

static void a_breath_right_beside_a_voice_is_its_own_for_120_ms(void **state)
{
    (void)state;
    noise();
    sing(1.0, 3.0, VOICE);
    breathe(3.6, 4.0, VOICE - 20.0);
    sing(4.0, 5.0, VOICE);
    assert_int_equal(found(), 2);
    assert_span(1, 3.88, 5.0);
}

static void or_behind_one(void **state)
{
    (void)state;
    noise();
    sing(1.0, 3.0, VOICE);
    breathe(3.0, 3.4, VOICE - 20.0);
    sing(4.0, 5.0, VOICE);
    assert_int_equal(found(), 2);
    assert_span(0, 1.0, 3.12);
}

/* A ch or an r may lie where a breath does: as loud as the voice it is none. */
static void no_breath_is_as_loud_as_the_voice(void **state)
{
    (void)state;
    noise();
    sing(1.0, 3.0, VOICE);
    breathe(3.0, 3.6, VOICE + 0.5);
    sing(3.6, 5.0, VOICE);
    assert_int_equal(found(), 1);
    breathe(3.0, 3.6, VOICE - 0.5);
    assert_int_equal(found(), 2);
}

/* Nearly all in the one band of a breath or in the other; nearly all under them, or over them. */
static void what_lies_elsewhere_is_none(void **state)
{
    (void)state;
    static const double share[][REST_BANDS] = {
        {0.05, 0.8, 0.1, 0.05}, {0.05, 0.1, 0.8, 0.05}, {0.5, 0.25, 0.2, 0.05}, {0.05, 0.2, 0.2, 0.55}};
    for (size_t i = 0; i < sizeof share / sizeof *share; ++i) {
        noise();
        sing(1.0, 3.0, VOICE);
        fill(3.0, 4.0, made(VOICE - 20.0, 0.0, share[i]));
        sing(4.0, 5.0, VOICE);
        assert_int_equal(found(), 1);
    }
}

static void quiet_phrases_are_phrases(void **state)
{
    (void)state;
    noise();
    sing(1.0, 3.0, VOICE);
    sing(3.7, 4.2, VOICE - 15.0);
    sing(4.2, 4.6, VOICE - 27.0);
    sing(4.6, 5.0, VOICE - 15.0);
    sing(6.0, 8.0, VOICE);
    assert_int_equal(found(), 3);
    assert_span(1, 3.7, 5.0);
}

static void what_is_30_dB_down_is_none(void **state)
{
    (void)state;
    noise();
    sing(1.0, 3.0, VOICE);
    sing(5.0, 6.0, VOICE - 32.0);
    assert_int_equal(found(), 1);
    assert_span(0, 1.0, 3.0);
}

/* 60 dB in 0.9 s, with the pitch of what it is a decay of. */
static void a_decay_is_none(void **state)
{
    (void)state;
    noise();
    sing(1.0, 3.0, VOICE);
    for (int i = 0; i < 90; ++i)
        sing(3.0 + 0.01 * i, 3.01 + 0.01 * i, VOICE - i / 1.5);
    sing(4.0, 5.0, VOICE);
    assert_int_equal(found(), 2);
    assert_in_range(lround(100.0 * span[0].to), 330, 365); /* 20 dB take 0.3 s */
    assert_span(1, 4.0, 5.0);
}

static void loud_sounds_without_a_pitch_are_a_voice(void **state)
{
    (void)state;
    noise();
    sing(1.0, 3.0, VOICE);
    knock(5.0, 5.4, VOICE - 10.0);
    knock(7.0, 7.4, VOICE - 17.0);
    assert_int_equal(found(), 2);
    assert_span(1, 5.0, 5.4);
}

/* ---- How a phrase begins and ends ---- */

static void consonants_belong_to_it(void **state)
{
    (void)state;
    noise();
    hiss(0.9, 1.0, VOICE - 25.0);
    sing(1.0, 3.0, VOICE);
    hiss(3.1, 3.15, VOICE - 25.0); /* a t behind its stop */
    assert_int_equal(found(), 1);
    assert_near(span[0].from, 0.9, FRAME);
    assert_near(span[0].to, 3.15, FRAME);
}

static void for_no_longer_than_a_quarter_of_a_second(void **state)
{
    (void)state;
    noise();
    hiss(0.5, 1.0, VOICE - 25.0);
    sing(1.0, 3.0, VOICE);
    hiss(3.0, 3.6, VOICE - 25.0);
    assert_int_equal(found(), 1);
    assert_span(0, 0.75, 3.25);
}

static void no_stop_stands_before_it(void **state)
{
    (void)state;
    noise();
    hiss(0.8, 0.9, VOICE - 25.0);
    sing(1.0, 3.0, VOICE);
    hiss(3.15, 3.2, VOICE - 25.0);
    assert_int_equal(found(), 1);
    assert_span(0, 1.0, 3.0);
}

static void phrases_lie_apart(void **state)
{
    (void)state;
    noise();
    sing(1.0, 3.0, VOICE);
    breathe(3.0, 3.38, VOICE - 20.0);
    sing(3.38, 5.0, VOICE);
    const uint32_t n = found();
    for (uint32_t i = 1; i < n; ++i)
        assert_true(span[i].from - span[i - 1].to > 0.049);
}

/* ---- Edges ---- */

static void digital_silence_is_no_noise(void **state)
{
    (void)state;
    noise();
    fill(5.0, 10.0, (TakeFrame){.hz = 0.f});
    sing(1.0, 3.0, VOICE);
    hiss(3.0, 3.1, NOISE + 2.0); /* the noise swings */
    assert_int_equal(found(), 1);
    assert_span(0, 1.0, 3.0);
}

static void nothing_is_found_in_nothing(void **state)
{
    (void)state;
    noise();
    assert_int_equal(found(), 0);
    assert_int_equal(phrase_spans(frame, 0, span, SPANS), 0);
    memset(frame, 0, sizeof frame);
    assert_int_equal(found(), 0);
    assert_int_equal(phrase_spans_most(0), 1);
}

static void no_more_than_there_is_room_for(void **state)
{
    (void)state;
    noise();
    for (int i = 0; i < 5; ++i)
        sing(1.0 + i, 1.5 + i, VOICE);
    assert_int_equal(phrase_spans(frame, FRAMES, span, 3), 3);
    assert_span(2, 3.0, 3.5);
    assert_true(phrase_spans_most(FRAMES) >= FRAMES / 31);
}

static void the_take_may_begin_and_end_in_a_phrase(void **state)
{
    (void)state;
    noise();
    sing(0.0, 2.0, VOICE);
    sing(8.0, 10.0, VOICE);
    assert_int_equal(found(), 2);
    assert_span(0, 0.0, 2.0);
    assert_span(1, 8.0, 10.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_rest_of_300_ms_parts_two_phrases),
        cmocka_unit_test(a_shorter_one_does_not),
        cmocka_unit_test(a_consonant_makes_no_rest),
        cmocka_unit_test(a_breath_does),
        cmocka_unit_test(a_breath_right_beside_a_voice_is_its_own_for_120_ms),
        cmocka_unit_test(no_breath_is_as_loud_as_the_voice),
        cmocka_unit_test(or_behind_one),
        cmocka_unit_test(what_lies_elsewhere_is_none),
        cmocka_unit_test(quiet_phrases_are_phrases),
        cmocka_unit_test(what_is_30_dB_down_is_none),
        cmocka_unit_test(a_decay_is_none),
        cmocka_unit_test(loud_sounds_without_a_pitch_are_a_voice),
        cmocka_unit_test(consonants_belong_to_it),
        cmocka_unit_test(for_no_longer_than_a_quarter_of_a_second),
        cmocka_unit_test(no_stop_stands_before_it),
        cmocka_unit_test(phrases_lie_apart),
        cmocka_unit_test(digital_silence_is_no_noise),
        cmocka_unit_test(nothing_is_found_in_nothing),
        cmocka_unit_test(no_more_than_there_is_room_for),
        cmocka_unit_test(the_take_may_begin_and_end_in_a_phrase),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
