/* What Esses is told of sibilants that sounded under another threshold. */
#include "chain_sibilants.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

static const Curve none = {.threshold = 0.0, .slope = 0.5, .knee = 0.0}, low = {-30.0, 0.5, 0.0},
                   lower = {-34.0, 0.5, 0.0};

typedef struct {
    Esses esses;
    ChainSibilants all;
} Both;

static Both *start(void)
{
    Both *b = calloc(1, sizeof *b);
    assert_non_null(b);
    assert_true(processor_init(&esses, &b->esses, 48000.0, 1));
    esses_hear_through(&b->esses, 2.0, 2.0);
    sibilants_clear(&b->all, true);
    return b;
}

static void stop(Both *b)
{
    esses.done(&b->esses);
    free(b);
}

/* One of 10 cells that the detector reads at -20 dB, and Esses at `level` in the first band, behind a gain of 2 dB.
 * number: those of different numbers are different sounds. */
static void hear_one(Both *b, int number, double level, const Curve *now, const Curve *ahead, bool known)
{
    b->esses.sibilance.sounding = true;
    b->esses.passed_over = false;
    for (int cell = 0; cell < 10; ++cell)
        sibilants_tick(&b->all, &b->esses, -20.0, now, ahead, known);
    b->esses.sibilance.sounding = false;
    b->esses.passed_over = true;
    for (int k = 0; k < SIBILANCE_BANDS; ++k)
        b->esses.sibilance.level[k] = level + (k ? number * (k + 7) % 17 : 0);
    sibilants_tick(&b->all, &b->esses, -90.0, now, ahead, known);
    b->esses.passed_over = false;
}

static void hear(Both *b, int count, const Curve *now, bool known)
{
    for (int i = 0; i < count; ++i)
        hear_one(b, i, -40.0, now, now, known);
}

static void settle(Both *b, const Curve *curve)
{
    for (int cell = 0; cell < 200; ++cell)
        sibilants_tick(&b->all, &b->esses, -90.0, curve, curve, true);
}

static double first_level(const Both *b)
{
    return (double)b->esses.memory.known[0].sibilant.level[0];
}

static void early_ones_are_told_of_later(void **state)
{
    (void)state;
    Both *b = start();
    hear(b, 6, &none, false);
    assert_int_equal(b->esses.memory.count, 0);
    settle(b, &low);
    assert_int_equal(b->esses.memory.count, 6);
    assert_true(first_level(b) == -40.0 - 2.0 - 5.0); /* what the gain before gave, and what the curve takes off */
    settle(b, &lower);
    assert_true(first_level(b) == -40.0 - 2.0 - 7.0);
    stop(b);
}

static void under_the_same_threshold_nothing_changes(void **state)
{
    (void)state;
    Both *b = start();
    hear(b, 6, &low, true);
    settle(b, &low);
    assert_int_equal(b->esses.memory.count, 6);
    assert_true(first_level(b) == -42.0);
    stop(b);
}

/* However the threshold has moved meanwhile. */
static void what_comes_again_counts_once(void **state)
{
    (void)state;
    Both *b = start();
    hear(b, 8, &low, true);
    hear(b, 8, &low, true);
    settle(b, &lower);
    hear(b, 8, &lower, true);
    settle(b, &low);
    assert_int_equal(b->esses.memory.count, 8);
    stop(b);
}

static void more_than_the_list_holds_are_left_as_they_are(void **state)
{
    (void)state;
    Both *b = start();
    for (int i = 0; i < SIBILANTS_MOST + 1; ++i) {
        const int louder = i / 16;
        hear_one(b, i % 16, -40.0 + 4.0 * louder, &low, &low, true);
    }
    settle(b, &lower);
    assert_int_equal(b->esses.memory.count, SIBILANTS_MOST + 1);
    assert_true(first_level(b) == -42.0);
    stop(b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(early_ones_are_told_of_later),
        cmocka_unit_test(under_the_same_threshold_nothing_changes),
        cmocka_unit_test(what_comes_again_counts_once),
        cmocka_unit_test(more_than_the_list_holds_are_left_as_they_are),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
