/* Held notes, from tables of pitches; and the lowest note that a low cut has to spare, from tables of counts. */
#include "held.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static bool near(double a, double b)
{
    return fabs(a - b) < 1e-9;
}

/* Takes in n frames from this note on, `step` from one to the next; the last answer. */
static HeldFound hear(Held *h, uint32_t n, double note, double step)
{
    HeldFound found = {0};
    for (uint32_t i = 0; i < n; ++i)
        found = held_hear(h, note + step * i);
    return found;
}

/* A slide of 1.5 semitones in 12 frames is still a note, one of a little more is none. */
static void a_note_keeps_within_a_semitone_and_a_half(void **state)
{
    (void)state;
    Held h = {0};
    assert_int_equal(hear(&h, HELD_FRAMES - 1, 50.0, 0.0).frames, 0);
    assert_int_equal(hear(&h, 1, 51.5, 0.0).frames, HELD_FRAMES);
    held_rest(&h);
    hear(&h, HELD_FRAMES - 1, 50.0, 0.0);
    assert_int_equal(hear(&h, 1, 51.51, 0.0).frames, 0);
    assert_int_equal(hear(&h, HELD_FRAMES - 2, 51.51, 0.0).frames, 0);
    assert_int_equal(hear(&h, 1, 51.51, 0.0).frames, HELD_FRAMES);
}

/* The newest first; what was told already is not told again, and what slid away before is not told at all. */
static void each_frame_comes_with_its_own_pitch(void **state)
{
    (void)state;
    Held h = {0};
    hear(&h, 3, 60.0, 0.0);
    HeldFound found = hear(&h, HELD_FRAMES, 50.0, 0.1);
    assert_int_equal(found.frames, HELD_FRAMES);
    for (uint32_t i = 0; i < HELD_FRAMES; ++i)
        assert_true(near(found.note[i], 51.1 - 0.1 * i));
    found = hear(&h, 1, 51.2, 0.0);
    assert_int_equal(found.frames, 1);
    assert_true(near(found.note[0], 51.2) && found.note[1] == 0.0);
    found = hear(&h, 2, 49.0, 0.0); /* two frames off, that the pitch comes back from: they are no part of the note */
    assert_int_equal(found.frames, 0);
    found = hear(&h, HELD_FRAMES, 50.5, 0.0);
    assert_int_equal(found.frames, 1);
}

static void a_rest_ends_a_note(void **state)
{
    (void)state;
    Held h = {0};
    hear(&h, HELD_FRAMES + 1, 50.0, 0.0);
    held_rest(&h);
    assert_int_equal(hear(&h, HELD_FRAMES - 1, 50.0, 0.0).frames, 0);
    assert_int_equal(hear(&h, 1, 50.0, 0.0).frames, HELD_FRAMES);
}

/* ---- The lowest note ---- */

static const TallyScale scale = {40.0, 0.5, 20};

typedef struct {
    uint32_t bin, count;
} Counted;

/* Of four rows at most, and one of 2000 frames high above them. */
static double spared(const Counted row[4])
{
    Tally t = {.count = {[18] = 2000}};
    for (uint32_t i = 0; i < 4; ++i)
        t.count[row[i].bin] = (uint16_t)(t.count[row[i].bin] + row[i].count);
    return held_spared(&t, &scale);
}

/* However long the take, one note is enough. */
static void a_note_held_once_is_spared(void **state)
{
    (void)state;
    assert_true(near(spared((Counted[4]){{4, 12}}), 42.25));
    assert_true(near(spared((Counted[4]){{4, 11}}), 49.25));
    assert_true(near(spared((Counted[4]){{4, 11}, {7, 11}}), 49.25));
    assert_true(near(spared((Counted[4]){{0, 12}}), 40.25));
    assert_true(near(spared((Counted[4]){{0, 11}, {9, 12}}), 44.75));
}

/* In three bins beside each other; the parts of it that lie low draw it down, and so does what nearly is enough. */
static void what_lies_low_draws_it_down(void **state)
{
    (void)state;
    assert_true(near(spared((Counted[4]){{4, 6}, {6, 6}}), 42.5));
    assert_true(near(spared((Counted[4]){{4, 3}, {5, 3}, {6, 6}}), 42.65625));
    assert_true(near(spared((Counted[4]){{3, 9}, {6, 12}}), 42.125));
    assert_true(near(spared((Counted[4]){{3, 10}, {6, 12}}), 42.0));
}

static void fewer_than_a_note_give_none(void **state)
{
    (void)state;
    Tally t = {.count = {[3] = 11}};
    assert_true(held_spared(&t, &scale) == 0.0 && held_under(&t, &scale, 0.5) == 0.0);
    t.count[3] = 12;
    assert_true(near(held_spared(&t, &scale), 41.75) && near(held_under(&t, &scale, 0.5), 41.75));
    assert_true(near(held_under(&t, &scale, 0.25), 41.625));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_note_keeps_within_a_semitone_and_a_half),
        cmocka_unit_test(each_frame_comes_with_its_own_pitch),
        cmocka_unit_test(a_rest_ends_a_note),
        cmocka_unit_test(a_note_held_once_is_spared),
        cmocka_unit_test(what_lies_low_draws_it_down),
        cmocka_unit_test(fewer_than_a_note_give_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
