/* Notes: what is held is told from what glides, what is near the loudest from what is not. */
#include "notes.h"

#include "units.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define LOUD 0.01 /* mean square */

static NoteFound hear(Notes *n, double note, double power)
{
    const HearingFrame frame = {.hz = note > 0.0 ? note_to_hz(note) : 0.0, .power = power};
    return notes_hear(n, &frame);
}

/* The last of so many frames that start at a note and move by a step each. */
static NoteFound after(uint32_t frames, double note, double step)
{
    Notes n = {0};
    NoteFound found = {0};
    for (uint32_t i = 0; i < frames; ++i)
        found = hear(&n, note + step * i, LOUD);
    return found;
}

static void a_note_is_held_after_its_time(void **state)
{
    (void)state;
    assert_false(after(HELD_FRAMES - 1, 60.0, 0.0).held.frames);
    const NoteFound found = after(HELD_FRAMES, 60.25, 0.0);
    assert_true(found.voiced && found.held.frames == HELD_FRAMES && !found.steady && !found.sung);
    assert_true(fabs(found.held.note[HELD_FRAMES - 1] - 60.25) < 1e-6);
    assert_false(after(NOTES_STEADY - 1, 60.0, 0.0).steady);
    assert_true(after(NOTES_STEADY, 60.0, 0.0).steady);
}

/* All frames of a note are told once, when it has been held long enough, and those that follow one by one. */
static void every_frame_of_a_note_is_told_once(void **state)
{
    (void)state;
    Notes n = {0};
    uint32_t held = 0, sung = 0, lasting = 0;
    for (uint32_t i = 0; i < 100; ++i) {
        const NoteFound found = hear(&n, 60.3, LOUD);
        held += found.held.frames;
        sung += found.sung;
        lasting += found.lasting;
        assert_true(held == (i + 1 < HELD_FRAMES ? 0 : i + 1));
        assert_true(sung == (i + 1 < NOTES_SUNG ? 0 : i + 1));
        assert_true(lasting == (i + 1 < NOTES_LASTING ? 0 : i + 1));
        assert_true(!found.sung || fabs(found.centre - 60.3) < 1e-6);
    }
}

/* A vibrato of 60 cents to each side, once in 180 ms, is a note that is sung; its middle is the note. A glide is none.
 */
static void a_note_with_vibrato_is_sung(void **state)
{
    (void)state;
    for (int gliding = 0; gliding < 2; ++gliding) {
        Notes n = {0};
        NoteFound found = {0};
        for (uint32_t i = 0; i < NOTES_LASTING; ++i)
            found = hear(&n, 57.0 + 0.6 * sin(2.0 * DSP_PI * i / NOTES_TURN) + gliding * 0.03 * i, LOUD);
        assert_int_equal(found.lasting > 0, !gliding);
        assert_int_equal(found.sung > 0, !gliding);
        assert_true(gliding || fabs(found.centre - 57.0) < 0.02);
    }
}

static void a_glide_up_or_down_is_not_held(void **state)
{
    (void)state;
    for (int sign = -1; sign <= 1; sign += 2) {
        assert_false(after(2 * HELD_FRAMES, 60.0, sign * 0.2).held.frames); /* 2.2 semitones in 120 ms */
        assert_true(after(2 * HELD_FRAMES, 60.0, sign * 0.1).held.frames);  /* 1.1 */
        assert_true(after(2 * NOTES_STEADY, 60.0, sign * 0.06).steady);     /* 1.44 in 250 ms */
        assert_false(after(2 * NOTES_STEADY, 60.0, sign * 0.1).steady);     /* 2.4 */
    }
}

static void a_break_starts_anew(void **state)
{
    (void)state;
    Notes n = {0};
    for (uint32_t i = 0; i < HELD_FRAMES; ++i)
        hear(&n, 60.0, LOUD);
    assert_false(hear(&n, 0.0, LOUD).voiced);
    assert_false(hear(&n, 60.0, LOUD).held.frames);
}

/* What is over 32 dB under the loudest is no note, until that has been forgotten at 1 dB a second. */
static void the_faint_is_no_note(void **state)
{
    (void)state;
    Notes n = {0};
    hear(&n, 60.0, LOUD);
    assert_true(hear(&n, 60.0, LOUD * db_to_power(-31.0)).voiced);
    assert_false(hear(&n, 60.0, LOUD * db_to_power(-33.0)).voiced);
    for (uint32_t i = 0; i < 300; ++i)
        hear(&n, 0.0, 0.0);
    assert_true(hear(&n, 60.0, LOUD * db_to_power(-33.0)).voiced);
}

/* A pitch in what little a sibilant has under 1400 Hz. */
static void a_whistle_in_a_sibilant_is_no_note(void **state)
{
    static const struct {
        double above, room; /* of LOUD: over 350 Hz, 350 to 1400 Hz */
        bool voiced;
    } row[] = {{1.0, 5e-4, false},   {1.0, 7.5e-4, true}, {0.9995, 0.0, false},
               {0.99925, 0.0, true}, {1.1, 5e-4, false},  {1.1, 7.5e-4, true}};
    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof *row; ++i) {
        Notes n = {0};
        hear(&n, 60.0, LOUD);
        const HearingFrame frame = {
            .hz = 1000.0, .power = LOUD, .above = row[i].above * LOUD, .room = row[i].room * LOUD};
        assert_int_equal(notes_hear(&n, &frame).voiced, row[i].voiced);
    }
}

/* Nor does it make what comes after it faint. */
static void a_loud_sibilant_hides_no_note(void **state)
{
    (void)state;
    Notes n = {0};
    const HearingFrame loud = {.power = LOUD, .above = LOUD, .room = 0.01 * LOUD};
    notes_hear(&n, &loud);
    assert_true(hear(&n, 60.0, LOUD * db_to_power(-51.0)).voiced);
    assert_false(hear(&n, 60.0, LOUD * db_to_power(-53.0)).voiced);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_note_is_held_after_its_time),
        cmocka_unit_test(every_frame_of_a_note_is_told_once),
        cmocka_unit_test(a_note_with_vibrato_is_sung),
        cmocka_unit_test(a_glide_up_or_down_is_not_held),
        cmocka_unit_test(a_break_starts_anew),
        cmocka_unit_test(the_faint_is_no_note),
        cmocka_unit_test(a_whistle_in_a_sibilant_is_no_note),
        cmocka_unit_test(a_loud_sibilant_hides_no_note),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
