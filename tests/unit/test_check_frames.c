/* What Check makes of frames that are made up: rests and their blocks, windows for hum, phrases, breaths, and what a
 * pop adds to the level of a voice. */
#include "breaths.h"
#include "phrases.h"
#include "pops.h"
#include "rests.h"

#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#define LEVEL (-20.0) /* dB, of the voice */

static HearingFrame voice(double db)
{
    const double power = db_to_power(db);
    return (HearingFrame){.power = power, .above = power, .air = power, .dull = 0.7 * power, .hz = 200.0};
}

/* The share of it that lies between 350 and 3500 Hz, and of that under 1400 Hz. */
static HearingFrame noise(double db, double air, double dull)
{
    const double power = db_to_power(db);
    return (HearingFrame){.power = power, .above = power, .air = air * power, .dull = dull * air * power};
}

/* ---- Rests ---- */

typedef struct {
    uint32_t blocks, first, windows, silent;
    double block_db, window_db;
} Found;

static void rest_for(Rests *r, HearingFrame frame, uint32_t frames, Found *f)
{
    for (uint32_t i = 0; i < frames; ++i) {
        const RestFound found = rests_hear(r, &frame);
        f->blocks += found.block;
        f->first += found.first;
        f->windows += found.window;
        f->silent += found.silent;
        f->block_db = found.block ? found.block_db : f->block_db;
        f->window_db = found.window ? found.window_db : f->window_db;
    }
}

static void a_rest_of_a_quarter_of_a_second_has_a_block(void **state)
{
    (void)state;
    for (uint32_t frames = 24; frames <= 26; ++frames) {
        Rests r = {0};
        Found f = {0};
        rest_for(&r, voice(LEVEL), 100, &f);
        rest_for(&r, noise(-60.0, 0.5, 0.5), frames, &f);
        rest_for(&r, voice(LEVEL), 50, &f);
        assert_int_equal(f.first, frames >= 25); /* the first on the grid of blocks after 0.22 s */
        assert_int_equal(f.blocks, f.first);
        assert_true(!f.blocks || fabs(f.block_db + 60.0) < 1e-6);
    }
    Rests r = {0};
    Found f = {0};
    for (int i = 0; i < 3; ++i) {
        rest_for(&r, voice(LEVEL), 20, &f);
        rest_for(&r, noise(-60.0, 0.5, 0.5), 60, &f);
    }
    assert_int_equal(f.first, 3);
    assert_true(f.blocks > 9);
}

/* The tail of a room has a pitch still, and lies far enough under the voice to look for a hum in; digital silence
 * breaks a window, and the first second of it is counted. */
static void windows_lie_in_tails_too(void **state)
{
    (void)state;
    Rests r = {0};
    Found f = {0};
    rest_for(&r, voice(LEVEL), 100, &f);
    rest_for(&r, voice(LEVEL - 15.0), 100, &f);
    assert_int_equal(f.windows, 0);
    rest_for(&r, voice(LEVEL - 30.0), REST_WINDOW + 4, &f);
    assert_int_equal(f.windows, 5);
    assert_true(fabs(f.window_db - (LEVEL - 30.0)) < 1e-6);
    rest_for(&r, (HearingFrame){.silent = true}, 250, &f);
    assert_int_equal(f.silent, 100);
    rest_for(&r, noise(-60.0, 0.5, 0.5), REST_WINDOW - 1, &f);
    assert_int_equal(f.windows, 5);
}

/* ---- Phrases ---- */

static uint32_t phrase_for(Phrases *p, HearingFrame frame, uint32_t frames, double level, double *db)
{
    uint32_t found = 0;
    double value;
    for (uint32_t i = 0; i < frames; ++i)
        if (phrases_hear(p, &frame, level, &value)) {
            ++found;
            *db = value;
        }
    return found;
}

static void a_phrase_ends_with_a_rest(void **state)
{
    (void)state;
    Phrases p = {0};
    double db = 0.0;
    assert_int_equal(phrase_for(&p, voice(-26.0), 100, LEVEL, &db), 0);
    assert_int_equal(phrase_for(&p, noise(-60.0, 0.5, 0.5), 29, LEVEL, &db), 0);
    assert_int_equal(phrase_for(&p, voice(-26.0), 100, LEVEL, &db), 0); /* too short a rest: it goes on */
    assert_int_equal(phrase_for(&p, noise(-60.0, 0.5, 0.5), 30, LEVEL, &db), 1);
    assert_true(fabs(db - (-26.0 + 10.0 * log10(200.0 / 229.0))) < 0.02);
    assert_int_equal(phrase_for(&p, noise(-60.0, 0.5, 0.5), 500, LEVEL, &db), 0);
    assert_int_equal(phrase_for(&p, voice(-26.0), 19, LEVEL, &db), 0);
    assert_int_equal(phrase_for(&p, noise(-60.0, 0.5, 0.5), 50, LEVEL, &db), 0); /* too short a phrase */
    assert_int_equal(phrase_for(&p, noise(-30.0, 0.1, 0.1), 19, LEVEL, &db), 0);
    assert_int_equal(phrase_for(&p, voice(-42.0), 90, LEVEL, &db), 0); /* what is faint is rest, voice or not */
    assert_int_equal(phrase_for(&p, voice(-26.0), 1500, LEVEL, &db), 1);
}

/* While the level of the voice is not known, the loudest frames stand for it; low sound has no part in a phrase. */
static void a_phrase_needs_no_level_and_no_pop(void **state)
{
    (void)state;
    Phrases p = {0};
    double db = 0.0;
    HearingFrame pop = voice(-26.0);
    pop.low = 10.0 * pop.power;
    pop.power += pop.low;
    phrase_for(&p, voice(-26.0), 40, UNITS_DB_FLOOR, &db);
    phrase_for(&p, pop, 5, UNITS_DB_FLOOR, &db);
    phrase_for(&p, voice(-26.0), 40, UNITS_DB_FLOOR, &db);
    assert_int_equal(phrase_for(&p, noise(-60.0, 0.5, 0.5), 30, UNITS_DB_FLOOR, &db), 1);
    assert_true(fabs(db + 26.0) < 0.01);
}

/* Rests as loud as that: then the voice alone tells where a phrase ends. */
static void in_loud_noise_the_voice_ends_a_phrase(void **state)
{
    (void)state;
    Phrases p = {0};
    double db = 0.0;
    phrase_for(&p, noise(-35.0, 0.5, 0.5), 50, LEVEL, &db);
    assert_int_equal(phrase_for(&p, voice(LEVEL), 100, LEVEL, &db), 0);
    assert_int_equal(phrase_for(&p, noise(-35.0, 0.5, 0.5), 55, LEVEL, &db), 1);
}

/* A rumble alone is no loud noise, whatever it leaves over 100 Hz: the s after it belongs to the phrase. */
static void after_a_rumble_a_consonant_sounds(void **state)
{
    (void)state;
    Phrases p = {0};
    double db = 0.0;
    const HearingFrame rumble = {.power = 1e-4, .low = 1.2e-4, .above = 1e-9};
    phrase_for(&p, voice(-26.0), 50, LEVEL, &db);
    phrase_for(&p, rumble, 10, LEVEL, &db);
    phrase_for(&p, noise(-26.0, 0.1, 0.1), 40, LEVEL, &db);
    assert_int_equal(phrase_for(&p, rumble, 30, LEVEL, &db), 1);
    assert_true(fabs(db - (-26.0 + 10.0 * log10(90.0 / 100.0))) < 0.02);
}

/* In digital silence there is none at all, and nothing of it is known anew when sound comes again. */
static void after_silence_a_consonant_sounds(void **state)
{
    (void)state;
    Phrases p = {0};
    double db = 0.0;
    phrase_for(&p, noise(-60.0, 0.5, 0.5), 50, LEVEL, &db);
    phrase_for(&p, voice(-26.0), 50, LEVEL, &db);
    phrase_for(&p, (HearingFrame){.silent = true}, 10, LEVEL, &db);
    phrase_for(&p, noise(-26.0, 0.1, 0.1), 40, LEVEL, &db);
    assert_int_equal(phrase_for(&p, (HearingFrame){.silent = true}, 30, LEVEL, &db), 1);
    assert_true(fabs(db - (-26.0 + 10.0 * log10(90.0 / 100.0))) < 0.02);
}

/* ---- Breaths ---- */

static uint32_t breath_for(Breaths *b, HearingFrame frame, uint32_t frames, double *db)
{
    uint32_t found = 0;
    double value;
    for (uint32_t i = 0; i < frames; ++i)
        if (breaths_hear(b, &frame, &value)) {
            ++found;
            *db = value;
        }
    return found;
}

/* Breaths between rests, of so many frames, so loud, of such a spectrum. */
static uint32_t breaths_of(uint32_t frames, double level, double air, double dull, double *db)
{
    Breaths b = {0};
    uint32_t found = 0;
    breath_for(&b, voice(LEVEL), 100, db);
    for (int i = 0; i < 3; ++i) {
        found += breath_for(&b, noise(-65.0, 0.4, 0.5), 30, db);
        found += breath_for(&b, noise(level, air, dull), frames, db);
        found += breath_for(&b, noise(-65.0, 0.4, 0.5), 5, db);
        found += breath_for(&b, voice(LEVEL), 50, db);
    }
    return found;
}

static void breaths_are_told_by_length_level_and_spectrum(void **state)
{
    (void)state;
    double db = 0.0;
    assert_int_equal(breaths_of(30, -30.0, 0.8, 0.5, &db), 3);
    assert_true(fabs(db - (-30.0 + 10.0 * log10(0.8))) < 1e-6);
    assert_int_equal(breaths_of(14, -30.0, 0.8, 0.5, &db), 0); /* a consonant */
    assert_int_equal(breaths_of(15, -30.0, 0.8, 0.5, &db), 3);
    assert_int_equal(breaths_of(121, -30.0, 0.8, 0.5, &db), 0); /* noise */
    assert_int_equal(breaths_of(30, -51.0, 0.8, 0.5, &db), 0);  /* faint */
    assert_int_equal(breaths_of(30, -30.0, 0.5, 0.5, &db), 0);  /* an s */
    assert_int_equal(breaths_of(30, -30.0, 0.8, 0.85, &db), 0); /* dull, */
    assert_int_equal(breaths_of(30, -30.0, 0.8, 0.15, &db), 0); /* and bright */
}

/* What does not come out of the rest's own noise is that noise. */
static void steady_noise_is_no_breath(void **state)
{
    (void)state;
    Breaths b = {0};
    double db;
    breath_for(&b, noise(-30.0, 0.8, 0.5), 100, &db);
    for (int i = 0; i < 5; ++i) {
        assert_int_equal(breath_for(&b, voice(LEVEL), 50, &db), 0);
        assert_int_equal(breath_for(&b, noise(-30.0, 0.8, 0.5), 50, &db), 0);
    }
}

/* ---- Pops ---- */

static void pop_for(Pops *p, HearingFrame frame, uint32_t frames, uint32_t *found)
{
    double db;
    for (uint32_t i = 0; i < frames; ++i)
        *found += pops_hear(p, &frame, &db);
}

/* A second of voice with a pop in its middle that is so many dB louder; what it adds to the block that it stands in. */
static double raise_of(double pop_db, uint32_t *found)
{
    Pops p;
    memset(&p, 0, sizeof p);
    HearingFrame pop = voice(LEVEL);
    pop.low = db_to_power(LEVEL + pop_db);
    pop.power += pop.low;
    *found = 0;
    pop_for(&p, voice(LEVEL), 60, found);
    pop_for(&p, pop, 4, found);
    pop_for(&p, voice(LEVEL), 45, found); /* the block ends 30 frames ago: the pop stands in it */
    return pops_raise(&p, 30);
}

static void a_pop_does_not_count_as_level(void **state)
{
    (void)state;
    uint32_t found;
    const double raised = raise_of(12.0, &found), expected = 10.0 * log10(1.0 + 4.0 * pow(10.0, 1.2) / 40.0);
    assert_int_equal(found, 1);
    assert_true(fabs(raised - expected) < 0.01);
    assert_true(raise_of(-6.0, &found) == 0.0); /* fainter than the voice: no pop, but part of it */
    Pops p;
    memset(&p, 0, sizeof p);
    pop_for(&p, voice(LEVEL), 100, &found);
    assert_true(pops_raise(&p, 30) == 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_rest_of_a_quarter_of_a_second_has_a_block),
        cmocka_unit_test(windows_lie_in_tails_too),
        cmocka_unit_test(a_phrase_ends_with_a_rest),
        cmocka_unit_test(a_phrase_needs_no_level_and_no_pop),
        cmocka_unit_test(in_loud_noise_the_voice_ends_a_phrase),
        cmocka_unit_test(after_a_rumble_a_consonant_sounds),
        cmocka_unit_test(after_silence_a_consonant_sounds),
        cmocka_unit_test(breaths_are_told_by_length_level_and_spectrum),
        cmocka_unit_test(steady_noise_is_no_breath),
        cmocka_unit_test(a_pop_does_not_count_as_level),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
