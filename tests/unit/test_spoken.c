/* The speech that other tests are built on: there, labelled, and not bent by resampling. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "figure.h"
#include "spoken.h"

static void voices_speak_with_labelled_phones(void **state)
{
    (void)state;
    static const char *const voices[] = {"awb", "rms", "slt"};
    for (size_t v = 0; v < sizeof voices / sizeof *voices; v++) {
        Spoken s;
        if (!spoken_say(&s, voices[v], "It's a ship."))
            skip();
        assert_true(s.n > s.rate / 2);
        int sh = 0;
        for (uint32_t i = 0; i < s.phones; i++) {
            assert_true(s.phone[i].end > s.phone[i].start);
            assert_true(s.phone[i].start == (i ? s.phone[i - 1].end : 0));
            sh += strcmp(s.phone[i].name, "sh") == 0;
        }
        assert_int_equal(sh, 1);
        assert_true(fabs(s.phone[s.phones - 1].end - s.n / s.rate) < 0.03);
        spoken_free(&s);
    }
}

static void the_robot_speaks(void **state)
{
    (void)state;
    Spoken s;
    if (!spoken_robot(&s, "en", 50, "a low hill"))
        skip();
    assert_true(s.n > s.rate / 2);
    spoken_free(&s);
}

static void recordings_load(void **state)
{
    (void)state;
    static const char *const names[] = {"walk",     "cards1",   "cards2",    "cards3",  "cards4",
                                        "cards5",   "numbers",  "something", "forward", "reading1",
                                        "reading2", "reading3", "reading4",  "reading5"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        Spoken s;
        if (!spoken_load(&s, names[i]))
            skip();
        assert_true(s.n > s.rate);
        spoken_free(&s);
    }
}

static void resampling_keeps_a_sine(void **state)
{
    (void)state;
    static const double to[] = {48000, 44100, 16000};
    const double from = 22050, hz = 5000;
    double worst = 0;
    for (size_t r = 0; r < sizeof to / sizeof *to; r++) {
        Spoken s = {.rate = from, .n = 11025};
        s.x = malloc(s.n * sizeof *s.x);
        assert_non_null(s.x);
        for (uint32_t i = 0; i < s.n; i++)
            s.x[i] = (float)sin(6.283185307179586 * hz * i / from);
        spoken_resample(&s, to[r]);
        for (uint32_t i = s.n / 10; i < s.n * 9 / 10; i++)
            worst = fmax(worst, fabs(s.x[i] - sin(6.283185307179586 * hz * i / to[r])));
        spoken_free(&s);
    }
    figure_at_most("Spoken", "a 5 kHz sine after resampling, largest error", 20 * log10(worst), -100, "dB",
                   "ours; required: -80");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(voices_speak_with_labelled_phones),
        cmocka_unit_test(the_robot_speaks),
        cmocka_unit_test(recordings_load),
        cmocka_unit_test(resampling_keeps_a_sine),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
