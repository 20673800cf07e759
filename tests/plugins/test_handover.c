/* The lock-free handover between run() and the host's save and restore: step by step, and with two threads over
 * millions of rounds. `make check` runs this program a second time, built with the thread sanitizer. */
#include "handover.h"

#include <math.h>
#include <pthread.h>
#include <sched.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { FIGURE, MEMORY, MEMORIES = 6 };

static const LearnedSchema schema = {.fields = 2,
                                     .field = {[FIGURE] = {"test_figure", 1, 0.f, 1e9f, .kind = LEARNED_CODED},
                                               [MEMORY] = {"test_memory", MEMORIES, 0.f, 1e9f, .kind = LEARNED_CODED}}};

/* One value throughout, so that a copy torn in two shows; and in every second there is no figure. */
static void fill(Learned *l, float value)
{
    l->count[FIGURE] = (uint32_t)value % 2;
    l->count[MEMORY] = MEMORIES;
    for (uint32_t i = 0; i < learned_room(&schema); ++i)
        l->value[i] = value;
}

static bool whole(const Learned *l)
{
    const float *memory = l->value + learned_at(&schema, MEMORY);
    bool same = l->count[MEMORY] == MEMORIES && l->count[FIGURE] == (uint32_t)memory[0] % 2;
    same = same && (!l->count[FIGURE] || l->value[0] == memory[0]);
    for (uint32_t i = 0; i < l->count[MEMORY]; ++i)
        same = same && memory[i] == memory[0];
    return same;
}

static float value_of(const Learned *l)
{
    assert_true(whole(l));
    return l->value[learned_at(&schema, MEMORY)];
}

static void publish(Handover *h, float value)
{
    fill(handover_draft(h), value);
    handover_publish(h);
}

static void restore(Handover *h, float value)
{
    fill(handover_blank(h), value);
    handover_send(h);
}

/* ---- Step by step ---- */

static void nothing_is_known_at_first(void **unused)
{
    (void)unused;
    Handover h;
    assert_true(handover_init(&h, &schema));
    for (int again = 0; again < 2; ++again) {
        const Learned *l = handover_read(&h);
        assert_true(l->count[FIGURE] == 0 && l->count[MEMORY] == 0);
        assert_null(handover_take(&h));
    }
    handover_done(&h);
    handover_done(&h);
}

/* A copy that a restore has written says no more of when run() wrote it. */
static void what_is_restored_is_of_no_date(void **unused)
{
    (void)unused;
    Handover h;
    assert_true(handover_init(&h, &schema));
    for (int again = 0; again < HANDOVER_COPIES; ++again) {
        handover_draft(&h)->dated = true;
        publish(&h, 1.f);
        handover_read(&h);
        Learned *blank = handover_blank(&h);
        assert_false(blank->dated);
        fill(blank, 2.f);
        handover_send(&h);
        assert_non_null(handover_take(&h));
    }
    handover_done(&h);
}

static void the_latest_published_is_read(void **unused)
{
    (void)unused;
    Handover h;
    assert_true(handover_init(&h, &schema));
    for (int turn = 1; turn < 50; ++turn) {
        publish(&h, (float)turn);
        if (turn % 3 == 0)
            continue;
        for (int again = 0; again < 1 + turn % 2; ++again)
            assert_true(value_of(handover_read(&h)) == (float)turn);
    }
    handover_done(&h);
}

static void what_was_restored_is_read_until_more_is_learned(void **unused)
{
    (void)unused;
    Handover h;
    assert_true(handover_init(&h, &schema));
    publish(&h, 1.f);
    restore(&h, 10.f);
    assert_true(value_of(handover_read(&h)) == 10.f);
    publish(&h, 2.f); /* it has not taken the restore */
    assert_true(value_of(handover_read(&h)) == 10.f);
    assert_true(value_of(handover_take(&h)) == 10.f);
    assert_null(handover_take(&h));
    assert_true(value_of(handover_read(&h)) == 10.f);
    publish(&h, 11.f);
    assert_true(value_of(handover_read(&h)) == 11.f);
    restore(&h, 20.f);
    assert_true(value_of(handover_read(&h)) == 20.f);
    handover_done(&h);
}

/* What is restored replaces all of what was restored before, be it less or nothing. */
static void the_last_restore_replaces_the_one_before(void **unused)
{
    (void)unused;
    Handover h;
    assert_true(handover_init(&h, &schema));
    restore(&h, 1.f);
    memset(handover_blank(&h)->count, 0, sizeof h.copy[0].count);
    handover_send(&h);
    const Learned *read = handover_read(&h), *taken = handover_take(&h);
    assert_true(read->count[FIGURE] == 0 && read->count[MEMORY] == 0);
    assert_non_null(taken);
    assert_true(taken->count[FIGURE] == 0 && taken->count[MEMORY] == 0);
    handover_done(&h);
}

/* run() in the middle of reading what it took: any number of restores and saves leave that alone, and the last of them
 * comes next. */
static void restores_while_run_is_reading_are_not_lost(void **unused)
{
    (void)unused;
    Handover h;
    assert_true(handover_init(&h, &schema));
    for (int restores = 1; restores < 6; ++restores)
        for (int publishes = 0; publishes < 3; ++publishes) {
            restore(&h, 1.f);
            const Learned *taken = handover_take(&h);
            for (int r = 0; r < restores; ++r) {
                restore(&h, (float)(2 + r));
                assert_true(value_of(handover_read(&h)) == (float)(2 + r));
                assert_true(value_of(taken) == 1.f);
            }
            for (int p = 0; p < publishes; ++p)
                publish(&h, 100.f);
            assert_true(value_of(handover_read(&h)) == (float)(1 + restores));
            assert_true(value_of(taken) == 1.f);
            assert_true(value_of(handover_take(&h)) == (float)(1 + restores));
            assert_null(handover_take(&h));
        }
    handover_done(&h);
}

/* The host's copies are made when they are first needed: a schema without figures stands for a lack of memory. */
static void without_memory_nothing_changes(void **unused)
{
    static const LearnedSchema none = {.fields = 0};
    (void)unused;
    Handover h;
    assert_true(handover_init(&h, &schema));
    h.schema = &none;
    publish(&h, 1.f);
    for (int again = 0; again < 2; ++again) {
        assert_null(handover_read(&h));
        assert_null(handover_blank(&h));
        assert_null(handover_take(&h));
    }
    h.schema = &schema;
    assert_true(value_of(handover_read(&h)) == 1.f);
    restore(&h, 10.f);
    h.schema = &none;
    assert_true(value_of(handover_take(&h)) == 10.f);
    assert_true(value_of(handover_read(&h)) == 10.f);
    handover_done(&h);
}

/* ---- Two threads ---- */

#ifndef ROUNDS
#define ROUNDS 2000000
#endif

typedef struct {
    Handover h;
    atomic_bool stop;
    unsigned taken, torn;
} Traffic;

/* A value is a whole number, which run() goes on from in steps of 1/16 as it learns. */
static void *audio_thread(void *data)
{
    Traffic *t = data;
    float value = 0.f;
    while (!atomic_load_explicit(&t->stop, memory_order_relaxed)) {
        const Learned *in = handover_take(&t->h);
        if (in) {
            ++t->taken;
            t->torn += !whole(in);
            value = in->value[learned_at(&schema, MEMORY)];
            continue;
        }
        if (value - floorf(value) < 0.875f)
            value += 1.f / 16.f;
        publish(&t->h, value);
    }
    return NULL;
}

typedef struct {
    unsigned torn, old, back, learned_on;
} Seen;

/* Saves right after restores, up to three of either in a row. */
static void restore_and_save(Handover *h, uint32_t round, float *value, Seen *seen)
{
    for (uint32_t r = 0; r < round % 4; ++r) {
        *value = *value < 1e6f ? *value + 1.f : 1.f;
        restore(h, *value);
    }
    float last = *value;
    for (uint32_t r = 0; r < 1 + round / 4 % 3; ++r) {
        const Learned *l = handover_read(h);
        const float now = l->value[learned_at(&schema, MEMORY)];
        seen->torn += !whole(l);
        seen->old += floorf(now) != *value;
        seen->back += now < last;
        seen->learned_on += now > *value;
        last = now;
    }
}

/* The two threads came between each other; on a busy machine that may want more rounds. */
static bool met(const Seen *seen)
{
    return seen->learned_on > ROUNDS / 20000;
}

static void a_save_gives_what_was_restored_whatever_run_does(void **unused)
{
    (void)unused;
    Traffic *t = calloc(1, sizeof *t);
    assert_non_null(t);
    assert_true(handover_init(&t->h, &schema));
    float value = 1.f;
    restore(&t->h, value);
    pthread_t thread;
    assert_int_equal(pthread_create(&thread, NULL, audio_thread, t), 0);
    Seen seen = {0};
    for (uint32_t round = 0; round < ROUNDS || (!met(&seen) && round < 50U * ROUNDS); ++round) {
        restore_and_save(&t->h, round, &value, &seen);
        if (round % 64 == 0)
            sched_yield(); /* on a machine of one core, too, run() gets its turns */
    }
    atomic_store(&t->stop, true);
    pthread_join(thread, NULL);
    printf("%d rounds: %u restores taken, %u saves of what was learned on\n", ROUNDS, t->taken, seen.learned_on);
    assert_int_equal(seen.torn, 0);
    assert_int_equal(t->torn, 0);
    assert_int_equal(seen.old, 0);
    assert_int_equal(seen.back, 0);
    assert_true(t->taken > ROUNDS / 10000 && met(&seen));
    const Learned *last = handover_take(&t->h); /* the last one has not been lost */
    if (last)
        assert_true(value_of(last) == value);
    handover_done(&t->h);
    free(t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_is_known_at_first),
        cmocka_unit_test(what_is_restored_is_of_no_date),
        cmocka_unit_test(the_latest_published_is_read),
        cmocka_unit_test(what_was_restored_is_read_until_more_is_learned),
        cmocka_unit_test(the_last_restore_replaces_the_one_before),
        cmocka_unit_test(restores_while_run_is_reading_are_not_lost),
        cmocka_unit_test(without_memory_nothing_changes),
        cmocka_unit_test(a_save_gives_what_was_restored_whatever_run_does),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
