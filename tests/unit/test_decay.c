/* Decay times from falls that are drawn by hand: exponentials of a known time, onto noise. */
#include "decay.h"

#include "fall_line.h"
#include "figure.h"
#include "seeds.h"
#include "singer/random.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define FRAME 0.01 /* s */

/* What a fall gave. */
typedef struct {
    int found;
    double t60;
    uint32_t times, seed;
} Falls;

static void hear(Decay *d, double db, bool voiced, double noise_db, Falls *f)
{
    f->seed = f->seed * 1664525u + 1013904223u; /* noise is never quite still */
    const double sway = 1.0 + 0.2 * ((double)f->seed / 2147483648.0 - 1.0);
    const HearingFrame frame = {.room = db_to_power(db) + sway * db_to_power(noise_db), .hz = voiced ? 200.0 : 0.0};
    const DecayFound fall = decay_hear(d, &frame);
    if (fall.times) {
        ++f->found;
        f->t60 = fall.t60;
        f->times = fall.times;
    }
}

static void hold(Decay *d, double db, double noise_db, int frames, Falls *f)
{
    for (int i = 0; i < frames; ++i)
        hear(d, db, true, noise_db, f);
}

static void fall(Decay *d, double from, double t60, double noise_db, int frames, Falls *f)
{
    for (int i = 0; i < frames; ++i)
        hear(d, from - 60.0 * (i + 1) * FRAME / t60, false, noise_db, f);
}

/* One fall in about seventy goes by untold, as its noise happens to lie; the time of those that are told is right. */
static void a_fall_onto_noise_gives_its_time(void **state)
{
    (void)state;
    enum { NOISES = 50 };
    double worst = 0.0, falls = 0.0, found = 0.0;
    for (uint32_t noise = 0; noise < NOISES; ++noise)
        for (double t60 = 0.3; t60 < 2.0; t60 *= 1.3) {
            Decay d;
            Falls f = {.seed = seeded(2654435761u * noise)};
            memset(&d, 0, sizeof d);
            hold(&d, -20.0, -70.0, 50, &f);
            fall(&d, -20.0, t60, -70.0, (int)(1.2 * t60 / FRAME) + 100, &f);
            falls += 1.0;
            found += f.found == 1;
            worst = f.found ? fmax(worst, fabs(f.t60 / t60 - 1.0)) : worst;
        }
    figure_at_least("Check", "400 drawn falls of 0.3 to 2 s onto noise 50 dB down: heard, each once",
                    100.0 * found / falls, 96.0, "%", "our own limit");
    figure_at_most("Check", "those: decay time off by", 100.0 * worst, 4.0, "%", "our own limit");
}

/* Times of drawn falls, whole: of rooms that hardly ring, where the voice itself stops in no more than a few frames,
 * and of halls. The ends of the range are worked out in ways of their own. */
static void short_and_long_falls_give_their_time(void **state)
{
    (void)state;
    static const double times[] = {0.1, 0.12, 0.15, 0.18, 0.22, 2.5, 3.5, 5.0, 7.0, 7.8};
    double brief = 0.0, lasting = 0.0;
    for (size_t i = 0; i < sizeof times / sizeof *times; ++i) {
        Decay d;
        Falls f = {0};
        memset(&d, 0, sizeof d);
        hold(&d, -20.0, -100.0, 50, &f);
        fall(&d, -20.0, times[i], -100.0, 700, &f);
        assert_int_equal(f.found, 1);
        const double off = f.t60 / times[i] - 1.0;
        if (times[i] < 1.0)
            brief = fmax(brief, fabs(f.t60 - times[i]));
        else
            lasting = fmax(lasting, fabs(off));
    }
    figure_at_most("Check", "drawn falls of 0.1 to 0.22 s: decay time off by", 1000.0 * brief, 6.0, "ms",
                   "our own limit: a frame is 10 ms");
    figure_at_most("Check", "drawn falls of 2.5 to 7.8 s: decay time off by", 100.0 * lasting, 6.0, "%",
                   "our own limit");
}

/* A fall that goes on to the noise, `left` dB under the top, as flat steps of `step` dB. */
static Falls stepped(double left, double step)
{
    Decay d;
    Falls f = {0};
    memset(&d, 0, sizeof d);
    hold(&d, -20.0, -20.0 - left, 50, &f);
    for (int i = 1; i < 300; ++i)
        hear(&d, -20.0 - step * round(0.6 * i / step), false, -20.0 - left, &f);
    return f;
}

/* 25 dB or more on a line count for most; half of it for a sixteenth; what lies 2 dB off for a fifth or less. */
static void falls_count_for_what_they_tell(void **state)
{
    (void)state;
    const Falls deep = stepped(60.0, 0.6), half = stepped(30.6, 0.6), rough = stepped(60.0, 8.0);
    assert_int_equal(deep.found, 1);
    assert_int_equal(half.found, 1);
    assert_int_equal(rough.found, 1);
    assert_in_range(deep.times, 58, DECAY_TIMES);
    assert_int_equal(half.times, 4);
    assert_in_range(rough.times, 4, 16);
    const Falls shallow = stepped(26.2, 0.6), least = stepped(26.2, 4.0);
    assert_true(shallow.found == 1 && shallow.times == 1 && least.found == 1 && least.times == 1);
    assert_int_equal(stepped(25.6, 0.6).found, 0);
    figure_within("Check", "a drawn fall of 1 s with 12.5 dB to fit: decay time", half.t60, 1.0, 0.013, "s",
                  "our own limit");
}

/* Nothing that a voice is recorded in rings for longer than 8 s: what falls more slowly is music or a machine. */
static void the_slowest_falls_are_no_rooms(void **state)
{
    (void)state;
    Decay d;
    Falls f = {0};
    memset(&d, 0, sizeof d);
    hold(&d, -20.0, -100.0, 50, &f);
    fall(&d, -20.0, 9.0, -100.0, 700, &f);
    assert_int_equal(f.found, 0);
}

/* The next note ends a fall, also one that is louder than the last. */
static void the_next_note_ends_a_fall(void **state)
{
    (void)state;
    Decay d;
    Falls f = {.seed = seeded(0)};
    memset(&d, 0, sizeof d);
    hold(&d, -20.0, -90.0, 50, &f);
    fall(&d, -20.0, 1.0, -90.0, 70, &f); /* by 42 dB */
    assert_int_equal(f.found, 0);
    for (double db = -62.0; db < -14.0; db += 3.0) /* not in one step: the rise is seen on its way */
        hear(&d, db, true, -90.0, &f);
    hold(&d, -14.0, -90.0, 5, &f);
    assert_int_equal(f.found, 1);
    assert_true(fabs(f.t60 - 1.0) < 0.1);
}

static void shallow_falls_and_no_voice_tell_nothing(void **state)
{
    (void)state;
    Decay d;
    Falls f = {.seed = seeded(0)};
    memset(&d, 0, sizeof d);
    hold(&d, -20.0, -36.0, 50, &f); /* the noise is 16 dB down */
    fall(&d, -20.0, 0.5, -36.0, 100, &f);
    assert_int_equal(f.found, 0);
    memset(&d, 0, sizeof d);
    fall(&d, -20.0, 1e9, -80.0, 50, &f); /* a noise that stops */
    fall(&d, -20.0, 0.5, -80.0, 100, &f);
    assert_int_equal(f.found, 0);
}

static void silence_starts_over(void **state)
{
    (void)state;
    Decay d;
    Falls f = {.seed = seeded(0)};
    memset(&d, 0, sizeof d);
    hold(&d, -20.0, -80.0, 50, &f);
    fall(&d, -20.0, 0.5, -80.0, 20, &f);
    assert_int_equal(decay_hear(&d, &(HearingFrame){.silent = true}).times, 0);
    fall(&d, -44.0, 0.5, -80.0, 100, &f);
    assert_int_equal(f.found, 0);
}

/* ---- Beside the rules of decay.md, with all that was ever heard at hand ---- */

enum { LONGEST = 60000 };

typedef struct {
    double power[LONGEST], noise, top_db, low_db;
    int heard, top, low;
    bool voiced;
} Plain;

static double plain_level(const Plain *p, int frame)
{
    double sum = 0.0;
    for (int i = frame - 2; i <= frame + 2; ++i)
        sum += p->power[i] / 5.0;
    return fmax(power_to_db(sum), -140.0);
}

/* The last 25 dB at most between 12 dB under the top and 6 dB over the noise, which is taken off. */
static DecayFound plain_fit(const Plain *p)
{
    const double bottom = fmax(p->noise + 6.0, p->low_db), start = fmin(p->top_db - 12.0, bottom + 25.0);
    int from = p->top, to = p->low;
    if (start - bottom < 8.0)
        return (DecayFound){0};
    while (from < p->low && plain_level(p, from) > start)
        ++from;
    while (to > from && plain_level(p, to) < bottom)
        --to;
    FallLine line = {0};
    for (int i = from; i <= to; ++i)
        fall_line_add(&line, (i - from) * FRAME, p->power[i] - db_to_power(p->noise));
    const bool line_fits = to - from >= FALL_LINE_LEAST;
    const double t60 = line_fits ? fall_line_time(&line) : (to - from + 1) * FRAME * 60.0 / (start - bottom);
    const double off = line_fits ? fall_line_off(&line) : 0.0;
    const double times = 64.0 * pow((start - bottom) / 25.0, 4.0) / (1.0 + off * off);
    return t60 > 0.0 && t60 <= 8.0 ? (DecayFound){t60, (uint32_t)fmax(floor(times + 0.5), 1.0)} : (DecayFound){0};
}

/* A fall is over where the level is 4 dB over its lowest, or finds no lower one for 20 frames, or where it gets so long
 * that the ring that the frames are kept in would not hold it. */
static DecayFound plain_hear(Plain *p, double power, bool voiced)
{
    DecayFound found = {0};
    p->top_db = p->heard ? p->top_db : -141.0;
    p->power[p->heard++] = power;
    if (p->heard < 5)
        return found;
    const int now = p->heard - 3;
    const double db = plain_level(p, now);
    p->noise = p->heard == 5 ? db : fmin(p->noise + 0.02, db);
    if (db > p->low_db + 4.0 || now - p->low >= 20 || now - p->top >= 502) {
        if (p->voiced && p->top_db - p->low_db >= 20.0)
            found = plain_fit(p);
        p->top_db = -141.0;
    }
    if (db >= p->top_db) {
        p->voiced = voiced;
        p->top = now;
    }
    if (db >= p->top_db || db <= p->low_db) {
        p->top_db = db >= p->top_db ? db : p->top_db;
        p->low_db = db;
        p->low = now;
    }
    return found;
}

typedef struct {
    Decay d;
    Plain *plain;
    uint32_t found;
} Both;

static void hear_both(Both *w, double power, bool voiced)
{
    const HearingFrame frame = {.room = power, .hz = voiced ? 200.0 : 0.0};
    const DecayFound is = decay_hear(&w->d, &frame), wanted = plain_hear(w->plain, (double)(float)power, voiced);
    assert_int_equal(is.times, wanted.times);
    assert_true(fabs(is.t60 - wanted.t60) < 1e-9);
    w->found += is.times > 0;
}

/* Notes that fall onto noise or onto nothing, some of them very slowly; breaths, words that come into a fall, cuts. */
static void it_goes_by_the_rules(void **state)
{
    (void)state;
    Both w = {.plain = calloc(1, sizeof *w.plain)};
    assert_non_null(w.plain);
    Random random = random_stream(4, 1);
    for (int note = 0; note < 300; ++note) {
        const double noise = note % 9 ? db_to_power(random_between(&random, -100.0, -40.0)) : 0.0;
        const double top = random_between(&random, -30.0, -5.0), sway = random_between(&random, 0.0, 3.0);
        const double t60 = note % 7 ? exp(random_between(&random, -3.0, 0.7)) : random_between(&random, 6.0, 9.0);
        const bool voiced = random_unit(&random) < 0.9;
        for (int i = 0; i < 20; ++i)
            hear_both(&w, db_to_power(top + random_between(&random, -1.0, 1.0)), voiced);
        const int frames = (int)(t60 * random_between(&random, 50.0, 130.0)) + note % 30;
        const int odd = (int)random_between(&random, 0.0, 2.0 * frames), much = note % 3;
        for (int i = 0; i < frames; ++i) {
            const double db =
                top - 0.6 * i / t60 + random_between(&random, -sway, sway) + (i == odd ? 4.0 * much : 0.0);
            hear_both(&w, (t60 > 0.2 || i < 5 ? db_to_power(db) : 0.0) + noise * random_between(&random, 0.7, 1.3),
                      false);
        }
        if (note % 20 == 19) {
            decay_hear(&w.d, &(HearingFrame){.silent = true});
            w.plain->heard = 0;
        }
    }
    assert_true(w.found > 100);
    free(w.plain);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_fall_onto_noise_gives_its_time),
        cmocka_unit_test(short_and_long_falls_give_their_time),
        cmocka_unit_test(falls_count_for_what_they_tell),
        cmocka_unit_test(the_slowest_falls_are_no_rooms),
        cmocka_unit_test(the_next_note_ends_a_fall),
        cmocka_unit_test(shallow_falls_and_no_voice_tell_nothing),
        cmocka_unit_test(silence_starts_over),
        cmocka_unit_test(it_goes_by_the_rules),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
