/* The gain that evens the phrases of a whole take, from tables of phrases. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "phrase_ride.h"
#include "units.h"

#define NEAR 1e-9

static const PhraseEvening wish = {.usual = UNITS_DB_FLOOR, .within = 1.0, .most_up = 6.0, .most_down = 6.0};

static void assert_near(double is, double wanted, double within)
{
    assert_true(fabs(is - wanted) <= within);
}

/* One after the other, 1 s of each two. */
static PhraseSpan phrase(uint32_t i, double level)
{
    return (PhraseSpan){2.0 * i, 2.0 * i + 1.0, level, 1.0};
}

static PhraseRide settled(const PhraseSpan *span, uint32_t spans)
{
    PhraseRide r = {.span = span, .spans = spans, .evening = wish};
    r.evening.usual = phrase_ride_level(span, spans, &wish);
    return r;
}

/* ---- The level ---- */

static void the_level_is_the_middle_of_what_is_sung(void **state)
{
    (void)state;
    PhraseSpan span[] = {phrase(0, -20.0), phrase(1, -24.0), phrase(2, -18.0)};
    assert_near(phrase_ride_level(span, 3, &wish), -20.0, NEAR);
    span[1].voiced = 3.0; /* more than half of all */
    assert_near(phrase_ride_level(span, 3, &wish), -24.0, NEAR);
}

static void or_nearest_to_it_where_all_are_reached(void **state)
{
    (void)state;
    const PhraseSpan quiet[] = {phrase(0, -20.0), phrase(1, -20.0), phrase(2, -31.0)};
    const PhraseSpan loud[] = {phrase(0, -20.0), phrase(1, -20.0), phrase(2, -9.0)};
    assert_near(phrase_ride_level(quiet, 3, &wish), -31.0 + 6.5, NEAR);
    assert_near(phrase_ride_level(loud, 3, &wish), -9.0 - 6.5, NEAR);
}

/* What lies too far off pulls nothing along that is more than it. */
static void one_too_far_off_counts_for_as_long_as_it_is(void **state)
{
    (void)state;
    const PhraseSpan span[] = {phrase(0, -20.0), phrase(1, -21.0), phrase(2, -19.0), phrase(3, -50.0)};
    const double level = phrase_ride_level(span, 4, &wish);
    assert_true(level >= -19.0 - 6.5 - NEAR && level <= -20.0);
}

static void brief_ones_have_none(void **state)
{
    (void)state;
    PhraseSpan span[] = {phrase(0, -20.0), phrase(1, -22.0), phrase(2, -10.0)};
    span[2].voiced = 0.19;
    assert_near(phrase_ride_level(span, 3, &wish), -22.0, NEAR);
    span[1].voiced = 0.19;
    assert_near(phrase_ride_level(span, 3, &wish), UNITS_DB_FLOOR, NEAR);
    assert_near(phrase_ride_level(span, 0, &wish), UNITS_DB_FLOOR, NEAR);
    span[1].voiced = PHRASE_BRIEF;
    assert_near(phrase_ride_level(span, 3, &wish), -20.0, NEAR);
}

/* ---- One gain a phrase ---- */

static void phrases_come_within_what_was_asked(void **state)
{
    (void)state;
    const PhraseSpan span[] = {phrase(0, -20.0), phrase(1, -24.0), phrase(2, -18.0), phrase(3, -20.4)};
    PhraseRide r = settled(span, 4);
    r.evening.usual = -20.0;
    assert_near(phrase_ride_gain(&r, 0), 0.0, NEAR);
    assert_near(phrase_ride_gain(&r, 1), 3.5, NEAR);
    assert_near(phrase_ride_gain(&r, 2), -1.5, NEAR);
    assert_true(phrase_ride_gain(&r, 3) == 0.0);
    r.makeup = 0.5;
    assert_near(phrase_ride_gain(&r, 1), 4.0, NEAR);
}

static void by_no_more_than_was_allowed(void **state)
{
    (void)state;
    const PhraseSpan span[] = {phrase(0, -20.0), phrase(1, -40.0), phrase(2, -5.0)};
    PhraseRide r = settled(span, 3);
    r.evening = (PhraseEvening){.usual = -20.0, .within = 2.0, .most_up = 4.0, .most_down = 3.0};
    assert_near(phrase_ride_gain(&r, 1), 4.0, NEAR);
    assert_near(phrase_ride_gain(&r, 2), -3.0, NEAR);
}

static void a_brief_one_goes_with_its_neighbour(void **state)
{
    (void)state;
    PhraseSpan span[] = {phrase(0, -20.0), phrase(1, -10.0), phrase(2, -25.0), phrase(3, -20.0)};
    span[1].voiced = 0.1;
    span[1].from = 2.8; /* nearer to the one after it, */
    span[1].to = 3.2;
    const PhraseRide r = settled(span, 4);
    assert_near(phrase_ride_gain(&r, 1), phrase_ride_gain(&r, 2), NEAR);
    assert_true(phrase_ride_gain(&r, 1) > 1.0);
    span[1].from = 1.5; /* to the one before it */
    span[1].to = 1.8;
    assert_near(phrase_ride_gain(&r, 1), phrase_ride_gain(&r, 0), NEAR);
}

static void one_phrase_is_left_alone(void **state)
{
    (void)state;
    const PhraseSpan span[] = {phrase(0, -33.0)};
    PhraseRide r = settled(span, 1);
    r.makeup = 2.0; /* nobody would settle this */
    assert_true(phrase_ride_gain(&r, 0) == 0.0);
    assert_true(phrase_ride_at(&r, 0.5) == 0.0);
    const PhraseRide none = settled(span, 0);
    assert_true(phrase_ride_at(&none, 0.5) == 0.0);
}

/* ---- Along the time ---- */

static PhraseRide uneven(void)
{
    static const PhraseSpan span[] = {{1.0, 2.0, -26.0, 1.0},
                                      {3.0, 4.0, -14.0, 1.0},
                                      {5.0, 6.0, -20.0, 1.0},
                                      {6.1, 7.0, -24.0, 1.0},
                                      {8.0, 9.0, -25.0, 1.0}};
    PhraseRide r = settled(span, 5);
    r.evening.usual = -20.0;
    return r;
}

static void a_phrase_has_one_gain_and_its_margin_too(void **state)
{
    (void)state;
    const PhraseRide r = uneven();
    for (double at = 0.961; at < 2.04; at += 0.01)
        assert_true(phrase_ride_at(&r, at) == 5.5);
    for (double at = 2.961; at < 4.04; at += 0.01)
        assert_near(phrase_ride_at(&r, at), -5.5, NEAR);
    for (double at = 5.0; at < 6.0; at += 0.01)
        assert_true(phrase_ride_at(&r, at) == 0.0);
}

static void no_rest_is_lifted(void **state)
{
    (void)state;
    PhraseRide r = uneven();
    r.makeup = 3.0;
    const double rest[][2] = {{-1.0, 0.88}, {2.19, 2.88}, {4.19, 4.88}, {7.19, 7.88}, {9.19, 20.0}};
    for (size_t i = 0; i < sizeof rest / sizeof *rest; ++i)
        for (double at = rest[i][0]; at < rest[i][1]; at += 0.01)
            assert_true(phrase_ride_at(&r, at) <= 0.0);
}

/* The lower of two neighbours, where that is below 0. */
static void a_rest_goes_with_what_goes_down(void **state)
{
    (void)state;
    const PhraseRide r = uneven();
    assert_near(phrase_ride_at(&r, 2.5), -5.5, NEAR);
    assert_near(phrase_ride_at(&r, 4.5), -5.5, NEAR);
    assert_near(phrase_ride_at(&r, 7.5), 0.0, NEAR);
    assert_near(phrase_ride_at(&r, 0.0), 0.0, NEAR);
    assert_near(phrase_ride_at(&r, 30.0), 0.0, NEAR);
}

static void it_takes_its_time(void **state)
{
    (void)state;
    const PhraseRide r = uneven();
    assert_near(phrase_ride_at(&r, 2.04 + 0.075), 0.0, 1e-6); /* half of the way from 5.5 to -5.5 */
    assert_near(phrase_ride_at(&r, 2.04 + 0.15), -5.5, 1e-6);
    assert_near(phrase_ride_at(&r, 4.96 - 0.04), -2.75, 1e-6); /* half of that from -5.5 to 0 */
    assert_near(phrase_ride_at(&r, 4.96 - 0.08), -5.5, 1e-6);
    for (double at = 0.0; at < 10.0; at += 0.001)
        assert_true(fabs(phrase_ride_at(&r, at + 0.001) - phrase_ride_at(&r, at)) < 0.3);
}

/* All of a rest of 0.1 s is shared out. */
static void a_short_rest_is_shared_out(void **state)
{
    (void)state;
    const PhraseRide r = uneven();
    assert_true(phrase_ride_at(&r, 6.02) == 0.0);
    assert_near(phrase_ride_at(&r, 6.05), 0.0, 1e-6);
    assert_near(phrase_ride_at(&r, 6.07), 0.5 * 3.5, 1e-6);
    assert_near(phrase_ride_at(&r, 6.08), 3.5, 1e-6);
}

/* ---- The loudness ---- */

enum { FRAMES = 1000 };

static TakeFrame frame[FRAMES];

/* Two phrases as loud as they are said to be, noise between. */
static PhraseRide two_phrases(void)
{
    static const PhraseSpan span[] = {{1.0, 4.0, -14.0, 3.0}, {5.0, 8.0, -24.0, 3.0}};
    for (uint32_t i = 0; i < FRAMES; ++i) {
        const double at = (i + 0.5) * TAKE_FRAME;
        const double db = at > 1.0 && at < 4.0 ? -14.0 : at > 5.0 && at < 8.0 ? -24.0 : -90.0;
        frame[i] = (TakeFrame){.weighted = (float)db_to_power(db)};
    }
    return settled(span, 2);
}

static void the_makeup_keeps_the_loudness(void **state)
{
    (void)state;
    uint32_t blocks[EVEN_FINE] = {0};
    EvenSums sums = {{0}, {0}, {0}};
    PhraseRide r = two_phrases();
    phrase_ride_sum(&r, frame, FRAMES, blocks, &sums);
    r.makeup = even_gain(blocks, &sums, 1.0);
    /* Both came in loud enough to pass the gate: the mean of -14 and -24 dB is -16.6. */
    const double mean = power_to_db(0.5 * (db_to_power(-14.0) + db_to_power(-24.0)));
    const double out = power_to_db(
        0.5 * (db_to_power(-14.0 + phrase_ride_gain(&r, 0)) + db_to_power(-24.0 + phrase_ride_gain(&r, 1))));
    assert_near(out, mean, 0.35);
}

static void nothing_to_do_is_nothing_to_make_up_for(void **state)
{
    (void)state;
    uint32_t blocks[EVEN_FINE] = {0};
    EvenSums sums = {{0}, {0}, {0}};
    PhraseRide r = two_phrases();
    r.evening.within = 12.0;
    r.evening.usual = -19.0;
    phrase_ride_sum(&r, frame, FRAMES, blocks, &sums);
    assert_true(even_gain(blocks, &sums, 1.0) == 0.0);
    uint32_t counted = 0;
    for (uint32_t i = 0; i < EVEN_FINE; ++i)
        counted += blocks[i];
    assert_in_range(counted, 64, 70); /* blocks that reach into a phrase, every 0.1 s */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_level_is_the_middle_of_what_is_sung),
        cmocka_unit_test(or_nearest_to_it_where_all_are_reached),
        cmocka_unit_test(one_too_far_off_counts_for_as_long_as_it_is),
        cmocka_unit_test(brief_ones_have_none),
        cmocka_unit_test(phrases_come_within_what_was_asked),
        cmocka_unit_test(by_no_more_than_was_allowed),
        cmocka_unit_test(a_brief_one_goes_with_its_neighbour),
        cmocka_unit_test(one_phrase_is_left_alone),
        cmocka_unit_test(a_phrase_has_one_gain_and_its_margin_too),
        cmocka_unit_test(no_rest_is_lifted),
        cmocka_unit_test(a_rest_goes_with_what_goes_down),
        cmocka_unit_test(it_takes_its_time),
        cmocka_unit_test(a_short_rest_is_shared_out),
        cmocka_unit_test(the_makeup_keeps_the_loudness),
        cmocka_unit_test(nothing_to_do_is_nothing_to_make_up_for),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
