/* The recorded voices that other tests are built on: there, as long as they say, sung where their notes say, and with
 * the bells that were planted. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "analog.h"
#include "figure.h"
#include "pitch.h"
#include "voices.h"

enum { SHORT = 12, SINGER = 7 }; /* "cards", "german" */

static void short_takes_are_made(void **state)
{
    (void)state;
    for (uint32_t v = SHORT; v < VOICES_ALL; ++v) {
        Spoken take;
        if (!voices_speak(&take, v, 0, 6))
            skip();
        assert_true(take.rate == VOICES_RATE);
        assert_true(take.n > 5 * take.rate && take.n < 14 * take.rate);
        double squares = 0;
        for (uint32_t i = 0; i < take.n; ++i)
            squares += (double)take.x[i] * (double)take.x[i];
        assert_true(squares / take.n > 1e-5 && squares / take.n < 0.1);
        spoken_free(&take);
    }
}

static void parts_have_other_words_and_come_back_alike(void **state)
{
    (void)state;
    Spoken a, b, again;
    if (!voices_speak(&a, SINGER, 0, 6))
        skip();
    assert_true(voices_speak(&b, SINGER, 1, 6) && voices_speak(&again, SINGER, 0, 6));
    assert_int_equal(a.n, again.n);
    assert_memory_equal(a.x, again.x, a.n * sizeof *a.x);
    assert_memory_not_equal(a.x, b.x, (a.n < b.n ? a.n : b.n) * sizeof *a.x);
    spoken_free(&b);
    assert_true(voices_speak(&b, SINGER, 1000, 6));
    assert_int_equal(b.n, 0);
    Spoken half[2];
    voices_half(&half[0], &a, 0);
    voices_half(&half[1], &a, 1);
    assert_int_equal(half[0].n + half[1].n, a.n);
    assert_memory_equal(half[1].x, a.x + half[0].n, half[1].n * sizeof *a.x);
    spoken_free(&half[0]);
    spoken_free(&half[1]);
    spoken_free(&a);
    spoken_free(&b);
    spoken_free(&again);
}

/* Frames of the song that lie within its notes and have a pitch, and of them those within a semitone of the note. */
static void follow_song(const VoicesSong *song, double *sung, double *near)
{
    Pitch p;
    uint32_t note = 0;
    *sung = *near = 0;
    assert_true(pitch_init(&p, song->take.rate));
    pitch_reset(&p);
    for (uint32_t at = 0; at < song->take.n;) {
        bool ready = false;
        at += pitch_process(&p, song->take.x + at, song->take.n - at, &ready);
        const double now = ((double)at - pitch_lag(&p)) / song->take.rate, hz = pitch_frame(&p)->hz;
        while (note < song->notes && song->note[note].end < now)
            ++note;
        if (!ready || hz == 0 || note == song->notes || now < song->note[note].start)
            continue;
        *sung += 1;
        *near += fabs(12 * log2(hz / song->note[note].hz)) < 1;
    }
    pitch_done(&p);
}

static void a_song_has_the_notes_it_says(void **state)
{
    (void)state;
    VoicesSong song, higher;
    double sung, near;
    if (!voices_sing(&song, SINGER, 0, 10, 1, 0) || !voices_sing(&higher, SINGER, 0, 10, 1, 2))
        skip();
    assert_true(song.notes > 5 && song.notes == higher.notes);
    for (uint32_t i = 0; i < song.notes; ++i) {
        assert_true(song.note[i].end > song.note[i].start);
        assert_true(fabs(12 * log2(higher.note[i].hz / song.note[i].hz) - 2) < 0.01);
    }
    follow_song(&song, &sung, &near);
    figure_at_least("Voices", "a song of 10 s: its notes have a pitch for", 0.01 * sung, 4, "s", "our own");
    figure_at_least("Voices", "of them within a semitone of the note that was to be sung", 100 * near / sung, 80, "%",
                    "our own");
    voices_song_free(&song);
    voices_song_free(&higher);
}

static void bells_are_planted_where_they_say(void **state)
{
    (void)state;
    VoicesBell bell[VOICES_BELLS], again[VOICES_BELLS];
    for (uint32_t seed = 0; seed < 200; ++seed) {
        voices_bells(bell, 3, seed);
        voices_bells(again, 3, seed);
        assert_memory_equal(bell, again, sizeof bell);
        for (uint32_t i = 0; i < 3; ++i) {
            assert_true(bell[i].hz >= 180 && bell[i].hz <= 1200 && bell[i].db >= 4 && bell[i].db <= 9);
            assert_true(bell[i].q >= 2 && bell[i].q <= 6);
            assert_true(fabs(log2(bell[i].hz / bell[(i + 1) % 3].hz)) >= 0.6);
        }
    }
    double worst = 0;
    for (double hz = 100; hz < 2000; hz *= 1.3) { /* through an impulse: the sum at each frequency */
        Spoken s = {.rate = VOICES_RATE, .n = 48000, .x = calloc(48000, sizeof *s.x)};
        assert_non_null(s.x);
        s.x[0] = 1.f;
        voices_plant(&s, bell, 3);
        voices_gain(&s, -6);
        double re = 0, im = 0, expected = -6;
        for (uint32_t i = 0; i < s.n; ++i) {
            re += (double)s.x[i] * cos(2 * DSP_PI * hz * i / s.rate);
            im += (double)s.x[i] * sin(2 * DSP_PI * hz * i / s.rate);
        }
        for (uint32_t i = 0; i < 3; ++i)
            expected += analog_bell(hz, bell[i].hz, bell[i].db, bell[i].q);
        worst = fmax(worst, fabs(10 * log10(re * re + im * im) - expected));
        spoken_free(&s);
    }
    figure_at_most("Voices", "three planted bells and a gain: off the cookbook by", worst, 0.01, "dB",
                   "W3C Audio EQ Cookbook");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(short_takes_are_made),
        cmocka_unit_test(parts_have_other_words_and_come_back_alike),
        cmocka_unit_test(a_song_has_the_notes_it_says),
        cmocka_unit_test(bells_are_planted_where_they_say),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
