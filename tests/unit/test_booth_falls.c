/* Falls of a band, drawn by hand: exponentials of a known time, onto noise; and rooms that keep to the model exactly.
 */
#include "booth_falls.h"

#include "figure.h"
#include "seeds.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#define FRAME 0.0107 /* s */

typedef struct {
    BoothFalls falls;
    uint32_t seed;
    int found;
    double seconds, t60, late; /* what a fall gave; the room's own, and late sound by that */
} Ear;

static double late_by(const BoothFalls *f, double t60)
{
    BoothSearch s;
    double late = 0.0;
    if (booth_search_begin(&s, f, t60))
        while (!booth_search_step(&s, f, &late))
            ;
    return late;
}

static void hear(Ear *e, double power)
{
    e->seed = e->seed * 1664525u + 1013904223u; /* noise is never quite still */
    const double sway = 1.0 + 0.2 * ((double)e->seed / 2147483648.0 - 1.0);
    if (!booth_falls_hear(&e->falls, power + 1e-9 * sway, &e->seconds))
        return;
    ++e->found;
    e->late = e->t60 > 0.0 ? late_by(&e->falls, e->t60) : 0.0;
}

static void begin(Ear *e)
{
    *e = (Ear){.seed = seeded(3)};
    booth_falls_init(&e->falls, FRAME, 0.05);
}

static void hold(Ear *e, double db, int frames)
{
    for (int i = 0; i < frames; ++i)
        hear(e, db_to_power(db));
}

static void fall(Ear *e, double from, double t60, int frames)
{
    for (int i = 0; i < frames; ++i)
        hear(e, db_to_power(from - 60.0 * (i + 1) * FRAME / t60));
}

static void a_fall_gives_its_time(void **state)
{
    (void)state;
    double worst = 0.0;
    for (double t60 = 0.3; t60 < 2.0; t60 *= 1.2) {
        Ear e;
        begin(&e);
        hold(&e, -20.0, 50);
        fall(&e, -20.0, t60, (int)(1.3 * t60 / FRAME) + 150);
        assert_int_equal(e.found, 1);
        worst = fmax(worst, fabs(e.seconds / t60 - 1.0));
    }
    figure_at_most("Booth", "drawn falls of 0.3 to 2 s onto noise: decay time off by", 100.0 * worst, 4.0, "%", "ours");
}

/* Of so few frames that no line is fitted to them, and a slow one that no pause is long enough for. */
static void the_ends_of_the_range(void **state)
{
    (void)state;
    double worst = 0.0;
    for (double t60 = 0.08; t60 < 0.2; t60 += 0.02) {
        Ear e;
        begin(&e);
        hold(&e, -20.0, 50);
        fall(&e, -20.0, t60, 200);
        assert_int_equal(e.found, 1);
        worst = fmax(worst, fabs(e.seconds - t60));
    }
    figure_at_most("Booth", "drawn falls of 0.08 to 0.2 s: decay time off by", 1000.0 * worst, 25.0, "ms",
                   "ours: a frame is 11 ms");
    Ear e;
    begin(&e);
    hold(&e, -20.0, 50);
    fall(&e, -20.0, 5.0, 900);
    assert_true(e.found >= 1 && fabs(e.seconds - 5.0) < 0.3);
    begin(&e);
    hold(&e, -20.0, 50);
    fall(&e, -20.0, 9.0, 1200);
    assert_int_equal(e.found, 0);
}

static void the_next_word_ends_a_fall(void **state)
{
    (void)state;
    Ear e;
    begin(&e);
    hold(&e, -20.0, 50);
    fall(&e, -20.0, 1.0, 60); /* by 38 dB */
    assert_int_equal(e.found, 0);
    for (double db = -57.0; db < -25.0; db += 3.0)
        hear(&e, db_to_power(db));
    assert_int_equal(e.found, 1);
    assert_true(fabs(e.seconds - 1.0) < 0.1);
}

static void shallow_falls_and_cuts_tell_nothing(void **state)
{
    (void)state;
    Ear e;
    begin(&e);
    hold(&e, -20.0, 50);
    fall(&e, -20.0, 1.0, 24); /* by 15 dB */
    hold(&e, -35.5, 50);
    assert_int_equal(e.found, 0);
    hold(&e, -20.0, 50);
    fall(&e, -20.0, 0.5, 20);
    double seconds;
    for (int i = 0; i < 60; ++i)
        assert_false(booth_falls_hear(&e.falls, 0.0, &seconds)); /* digital silence */
    hold(&e, -40.0, 50);
    assert_int_equal(e.found, 0);
    assert_true(late_by(&e.falls, 0.5) == 0.0);
}

/* Two words in a room that adds `late` after five frames. */
static double late_found(double t60, double late)
{
    enum { FRAMES = 400, LAG = 4 };
    double early[FRAMES], tail = 0.0;
    const double keep = booth_keep(FRAME, t60);
    Ear e;
    begin(&e);
    e.t60 = t60;
    for (int i = 0; i < FRAMES; ++i) {
        early[i] = i < 60 || (i > 90 && i < 150) ? 0.01 * (1.0 + 0.5 * sin(0.7 * i)) : 1e-9;
        tail = keep * tail + (i >= LAG ? late * (1.0 - keep) * early[i - LAG] : 0.0);
        hear(&e, early[i] + tail);
    }
    assert_true(e.found >= 1 && fabs(e.seconds / t60 - 1.0) < 0.1);
    return e.late;
}

static void a_fall_tells_how_much_is_late(void **state)
{
    (void)state;
    double worst = 0.0;
    for (double t60 = 0.4; t60 < 1.3; t60 += 0.2)
        for (double db = -15.0; db < -8.0; db += 3.0)
            worst = fmax(worst, fabs(power_to_db(late_found(t60, db_to_power(db))) - db));
    figure_at_most("Booth", "rooms that keep to the model: late sound found off by", worst, 0.5, "dB", "ours");
}

/* What a fall needs to count, each a little more and a little less. Falls of 1 s are 0.64 dB a frame. */
static int counted(double from, double down, int still, double then)
{
    Ear e;
    begin(&e);
    hold(&e, from, 50);
    fall(&e, from, 1.0, (int)(down / 60.0 / FRAME + 0.5));
    for (int i = 0; i < still; ++i)
        hear(&e, db_to_power(from - down + 0.1)); /* not quite as low */
    for (int i = 0; i < 6; ++i)
        hear(&e, db_to_power(then));
    return e.found;
}

static void the_rules_of_a_fall(void **state)
{
    (void)state;
    assert_int_equal(counted(-20.0, 34.0, 3, -49.7), 1);  /* rises by 4 dB: over */
    assert_int_equal(counted(-20.0, 34.0, 3, -50.4), 0);  /* by 3.4 */
    assert_int_equal(counted(-20.0, 34.0, 22, -54.0), 1); /* 0.2 s lie still: over */
    assert_int_equal(counted(-20.0, 34.0, 10, -54.0), 0);
    assert_int_equal(counted(-20.0, 32.0, 0, -40.0), 1); /* 15 under the top and 6 over the lowest leave 11 dB; */
    assert_int_equal(counted(-20.0, 28.0, 0, -40.0), 0); /* 7: too few for a line */
}

/* The noise is taken for the lowest level, which rises by 2 dB a second: 6 dB over it the line ends. */
static void the_line_ends_over_the_noise(void **state)
{
    (void)state;
    Ear e;
    begin(&e);
    hold(&e, -70.0, 100);
    assert_true(fabs(e.falls.floor_db + 70.0) < 0.3);
    hold(&e, -20.0, 280);
    assert_true(fabs(e.falls.floor_db + 64.0) < 0.3); /* 3 s later */
    for (int i = 0; i < 200; ++i)
        hear(&e, db_to_power(-20.0 - 60.0 * (i + 1) * FRAME / 0.8) + db_to_power(-64.0));
    assert_int_equal(e.found, 1);
    assert_true(fabs(e.seconds - 0.8) < 0.03);
    const double fitted = (double)(e.falls.last - e.falls.first) * FRAME;
    assert_true(fabs(fitted - 22.0 * 0.8 / 60.0) < 0.03); /* from -35 to -57 dB */
    assert_int_equal(e.falls.stopped, e.falls.first);
}

/* At most 25 dB are fitted, the lowest. */
static void a_deep_fall_is_fitted_where_it_ends(void **state)
{
    (void)state;
    Ear e;
    begin(&e);
    hold(&e, -20.0, 50);
    fall(&e, -20.0, 0.8, 75);
    hold(&e, -40.0, 5);
    assert_int_equal(e.found, 1);
    const double fitted = (double)(e.falls.last - e.falls.first) * FRAME * 60.0 / 0.8;
    assert_true(fitted > 23.0 && fitted < 26.5);
    assert_true(e.falls.first > e.falls.stopped);
}

static void decay_is_by_sixty_decibels(void **state)
{
    (void)state;
    assert_true(fabs(power_to_db(pow(booth_keep(0.01, 0.5), 50.0)) + 60.0) < 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_fall_gives_its_time),
        cmocka_unit_test(the_ends_of_the_range),
        cmocka_unit_test(the_next_word_ends_a_fall),
        cmocka_unit_test(shallow_falls_and_cuts_tell_nothing),
        cmocka_unit_test(a_fall_tells_how_much_is_late),
        cmocka_unit_test(decay_is_by_sixty_decibels),
        cmocka_unit_test(the_rules_of_a_fall),
        cmocka_unit_test(the_line_ends_over_the_noise),
        cmocka_unit_test(a_deep_fall_is_fitted_where_it_ends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
