/* Phrase: what it learns from tables of frames, and what it does with tones and takes. On recorded voices:
 * test_phrase_voices.c. */
#include "phrase.h"

#include "figure.h"
#include "learned_room.h"
#include "play.h"
#include "singer/singer.h"
#include "units.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define RATE 48000.0

static const PhraseEvening evening = {.usual = -20.0, .within = 2.0, .most_up = 6.0, .most_down = 4.0};
static const PhraseParams params = {
    .within = 1.0, .most_up = 6.0, .most_down = 6.0, .even_loudness = true, .learn = true};

/* ---- What it learns ---- */

static void what_lies_within_stays(void **state)
{
    (void)state;
    assert_true(phrase_evening(&evening, -20.0) == 0.0);
    assert_true(phrase_evening(&evening, -19.1) == 0.0);
    assert_true(phrase_evening(&evening, -20.9) == 0.0);
    assert_true(fabs(phrase_evening(&evening, -23.0) - 0.9 * 2.0) < 1e-12);
    assert_true(fabs(phrase_evening(&evening, -17.0) + 0.9 * 2.0) < 1e-12);
    assert_true(phrase_evening(&evening, -60.0) == 6.0);
    assert_true(phrase_evening(&evening, 0.0) == -4.0);
}

typedef struct {
    PhraseMemory memory;
    PhraseHearing hearing;
} Learner;

static Learner fresh(void)
{
    Learner l = {.hearing = {.frames = 0}};
    learned_clear(&phrase_schema, &l.memory);
    return l;
}

static void hear(Learner *l, uint32_t frames, double db, bool voiced)
{
    const PhraseFrame frame = {
        .level = voiced ? db : UNITS_DB_FLOOR, .slow = db, .energy = db_to_power(db), .voiced = voiced};
    for (uint32_t f = 0; f < frames; ++f)
        phrase_memory_hear(&l->memory, &l->hearing, &frame);
}

static void the_middle_of_the_phrases_is_learned(void **state)
{
    (void)state;
    Learner l = fresh();
    hear(&l, PHRASE_ENOUGH - 1, -30.0, true);
    hear(&l, 1000, -10.0, false);
    assert_false(phrase_memory_usual(&l.memory) > UNITS_DB_FLOOR);
    hear(&l, 1, -30.0, true);
    assert_true(fabs(phrase_memory_usual(&l.memory) + 30.0) < 0.3);
    hear(&l, 800, -18.0, true);
    assert_true(fabs(phrase_memory_usual(&l.memory) + 18.0) < 0.3);
}

/* Half of the time 6 dB over the other half: both go the whole way, which no power mean stays the same through. */
static void the_makeup_keeps_the_loudness(void **state)
{
    (void)state;
    Learner l = fresh();
    for (int i = 0; i < 20; ++i) {
        hear(&l, 200, -21.0, true);
        hear(&l, 200, -27.0, true);
    }
    const PhraseEvening e = {.usual = -24.0, .most_up = 12.0, .most_down = 12.0};
    const double before = 0.5 * (db_to_power(-21.0) + db_to_power(-27.0));
    const double after = 0.5 * (db_to_power(-21.0 - 2.4) + db_to_power(-27.0 + 2.4));
    figure_within("Phrase", "makeup for two levels 6 dB apart", phrase_memory_makeup(&l.memory, &e),
                  power_to_db(before / after), 0.2, "dB", "arithmetic; wide: rows of 3 dB");
    const PhraseEvening none = {.usual = -24.0, .within = 12.0, .most_up = 12.0, .most_down = 12.0};
    assert_true(phrase_memory_makeup(&l.memory, &none) == 0.0);
}

static void a_fresh_start_keeps_the_figures_until_there_are_new_ones(void **state)
{
    (void)state;
    Learner l = fresh();
    hear(&l, 1000, -24.0, true);
    const double usual = phrase_memory_usual(&l.memory);
    phrase_memory_start_afresh(&l.memory, 1.5);
    assert_true(phrase_memory_usual(&l.memory) == usual);
    assert_true(phrase_memory_makeup(&l.memory, &evening) == 1.5);
    hear(&l, 1000, -30.0, true);
    assert_true(fabs(phrase_memory_usual(&l.memory) + 30.0) < 0.3);
}

/* ---- What it does ---- */

static float *pass(Player *p, const float *in, uint32_t n, bool learn)
{
    float *const out = calloc(n + 1, sizeof *out);
    assert_non_null(out);
    PhraseParams with = params;
    with.learn = learn;
    play_reset(p);
    play_set(p, &with);
    play(p, (const float *[]){in}, (float *[]){out}, n);
    return out;
}

static SingerTake sing(double hiss)
{
    static const double db[] = {5.0, -5.0, 0.0};
    SingerTake take;
    assert_true(singer_sing(&(SingerSpec){.voice = SINGER_TENOR,
                                          .seed = 7,
                                          .rate = RATE,
                                          .seconds = 24.0,
                                          .phrase_db = db,
                                          .phrase_db_count = 3,
                                          .hiss_db = hiss},
                            &take));
    return take;
}

static void nothing_is_done_before_anything_is_learned(void **state)
{
    (void)state;
    SingerTake take = sing(-45.0);
    Player p;
    assert_true(play_init(&p, &phrase, RATE, 1));
    assert_int_equal(play_latency(&p), 0);
    float *const out = pass(&p, take.audio, take.frames, false);
    assert_memory_equal(out, take.audio, take.frames * sizeof *out);
    float *const learning = pass(&p, take.audio, take.frames, true);
    assert_memory_equal(learning, take.audio, (uint32_t)RATE * sizeof *out);
    play_done(&p);
    free(out);
    free(learning);
    singer_free(&take);
}

/* The gain in each rest is one. */
static void the_gain_stands_still_in_rests(void **state)
{
    (void)state;
    SingerTake take = sing(-45.0);
    Player p;
    assert_true(play_init(&p, &phrase, RATE, 1));
    free(pass(&p, take.audio, take.frames, true));
    float *const out = pass(&p, take.audio, take.frames, false);
    double lowest = 100.0, highest = -100.0;
    for (size_t i = 0; i < take.rest_count; ++i) {
        const uint32_t from = (uint32_t)((take.rests[i].start + 0.1) * RATE), to = (uint32_t)(take.rests[i].end * RATE);
        const double first = (double)out[from] / (double)take.audio[from];
        for (uint32_t k = from; k + 1 < to && k + 1 < take.frames; ++k)
            assert_true(fabs((double)out[k] - first * (double)take.audio[k]) < 1e-7);
        lowest = fmin(lowest, gain_to_db(first));
        highest = fmax(highest, gain_to_db(first));
    }
    assert_true(highest - lowest > 3.0); /* and it does move between them */
    PhraseReport r;
    play_report(&p, &r);
    assert_true(r.farthest > 1.5 && r.farthest <= 6.0);
    play_done(&p);
    free(out);
    singer_free(&take);
}

/* A hum and noise have no part in it. */
static void a_room_alone_is_no_phrase(void **state)
{
    (void)state;
    enum { SECONDS = 20 };
    const uint32_t n = (uint32_t)(SECONDS * RATE);
    float *const in = calloc(n, sizeof *in);
    assert_non_null(in);
    uint32_t seed = 9;
    for (uint32_t k = 0; k < n; ++k) {
        seed = seed * 1664525u + 1013904223u;
        in[k] = (float)(0.01 * sin(2.0 * DSP_PI * 50.0 * k / RATE) + 0.005 * (seed / 2147483648.0 - 1.0));
    }
    Player p;
    assert_true(play_init(&p, &phrase, RATE, 1));
    float *const out = pass(&p, in, n, true);
    assert_memory_equal(out, in, n * sizeof *out);
    play_done(&p);
    free(out);
    free(in);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_lies_within_stays),
        cmocka_unit_test(the_middle_of_the_phrases_is_learned),
        cmocka_unit_test(the_makeup_keeps_the_loudness),
        cmocka_unit_test(a_fresh_start_keeps_the_figures_until_there_are_new_ones),
        cmocka_unit_test(nothing_is_done_before_anything_is_learned),
        cmocka_unit_test(the_gain_stands_still_in_rests),
        cmocka_unit_test(a_room_alone_is_no_phrase),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
