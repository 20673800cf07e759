/* What was learned: kept within its schema, exact through text, started afresh only when asked; a memory is stored and
 * comes back as its table says. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#include "learned_room.h"

static const LearnedSchema schema = {
    .fields = 3,
    .field = {{"figure", 1, -60.f, 0.f, .kind = LEARNED_CODED},
              {"memory", 5, 0.f, 100.f, .kind = LEARNED_CODED},
              {"last", 2, -1.f, 1.f, .kind = LEARNED_CODED}},
};

static void fields_lie_one_after_the_other(void **state)
{
    (void)state;
    Learned l = LEARNED_WITH_ROOM;
    assert_int_equal(learned_at(&schema, 0), 0);
    assert_int_equal(learned_at(&schema, 1), 1);
    assert_int_equal(learned_at(&schema, 2), 6);
    assert_ptr_equal(learned_field(&schema, &l, 2), l.value + 6);
}

static void has_room_for_its_schema(void **state)
{
    (void)state;
    Learned l;
    assert_true(learned_init(&l, &schema));
    for (uint32_t f = 0; f < LEARNED_FIELDS; ++f)
        assert_int_equal(l.count[f], 0);
    for (uint32_t i = 0; i < learned_room(&schema); ++i)
        l.value[i] = 1.f;
    learned_done(&l);
    learned_done(&l);
    const LearnedSchema most = {
        .fields = 2,
        .field = {{"a", LEARNED_MOST - 1, 0.f, 1.f, .kind = LEARNED_CODED}, {"b", 1, 0.f, 1.f, .kind = LEARNED_CODED}}};
    const LearnedSchema more = {
        .fields = 2,
        .field = {{"a", LEARNED_MOST, 0.f, 1.f, .kind = LEARNED_CODED}, {"b", 1, 0.f, 1.f, .kind = LEARNED_CODED}}};
    assert_true(learned_init(&l, &most));
    learned_done(&l);
    assert_false(learned_init(&l, &more));
    learned_done(&l);
}

static Learned good(void)
{
    static float value[8];
    Learned l = {.count = {1, 3, 2}, .value = value};
    assert_int_equal(learned_room(&schema), 8);
    learned_field(&schema, &l, 0)[0] = -60.f; /* limits are allowed */
    for (int i = 0; i < 3; ++i)
        learned_field(&schema, &l, 1)[i] = 50.f * (float)i;
    learned_field(&schema, &l, 2)[0] = -1.f;
    learned_field(&schema, &l, 2)[1] = 1.f;
    return l;
}

static void what_keeps_to_its_schema_stays(void **state)
{
    (void)state;
    Learned l = good();
    learned_check(&schema, &l);
    assert_int_equal(l.count[0], 1);
    assert_int_equal(l.count[1], 3);
    assert_int_equal(l.count[2], 2);
}

/* A broken field is taken out; the others stay. */
static void what_breaks_its_schema_is_taken_out_alone(void **state)
{
    (void)state;
    const float broken[] = {NAN, INFINITY, -INFINITY, 100.001f, -0.001f};
    for (size_t i = 0; i < sizeof broken / sizeof *broken; ++i) {
        Learned l = good();
        learned_field(&schema, &l, 1)[2] = broken[i];
        learned_check(&schema, &l);
        assert_int_equal(l.count[0], 1);
        assert_int_equal(l.count[1], 0);
        assert_int_equal(l.count[2], 2);
    }
    Learned l = good();
    l.count[1] = 6;
    l.count[2] = 3; /* one too many, though the figure that would be the third is in limits */
    learned_check(&schema, &l);
    assert_int_equal(l.count[0], 1);
    assert_int_equal(l.count[1], 0);
    assert_int_equal(l.count[2], 0);
}

/* What lies beyond a field's count is nobody's. */
static void figures_past_the_count_do_not_matter(void **state)
{
    (void)state;
    Learned l = good();
    learned_field(&schema, &l, 1)[3] = NAN;
    learned_check(&schema, &l);
    assert_int_equal(l.count[1], 3);
}

static void rounding_is_to_the_nearest_256th(void **state)
{
    (void)state;
    assert_true(learned_round(1.0) == 1.0);
    assert_true(learned_round(0.5 / 256 + 1e-9) == 1.0 / 256);
    assert_true(learned_round(0.5 / 256 - 1e-9) == 0.0);
    assert_true(learned_round(-18.3) == -4685.0 / 256);
}

/* Hosts write eight decimals. */
static void rounded_figures_survive_text_to_the_bit(void **state)
{
    (void)state;
    for (double x = -65535; x <= 65535; x += 13.37) {
        char text[64];
        const float kept = (float)learned_round(x);
        snprintf(text, sizeof text, "%.8f", (double)kept);
        assert_true(strtof(text, NULL) == kept);
        assert_true((double)kept == learned_round(x));
    }
}

static void only_hold_to_learn_while_running_starts_afresh(void **state)
{
    (void)state;
    LearnSwitch s = {0};
    assert_false(learn_switch(&s, true)); /* first run on learn: goes on from what it knows */
    assert_false(learn_switch(&s, true));
    assert_false(learn_switch(&s, false));
    assert_false(learn_switch(&s, false));
    assert_true(learn_switch(&s, true));
    assert_false(learn_switch(&s, true));
    s = (LearnSwitch){0}; /* reset */
    assert_false(learn_switch(&s, false));
    assert_true(learn_switch(&s, true));
}

/* ---- Memories, from their table ---- */

typedef struct {
    double figure;
    uint32_t before;
    uint16_t count[4];
    uint32_t row[3], first[2][2], second[2], after;
} Memory;

static const LearnedSchema table = {
    .fields = 5,
    .field = {{"figure", 1, -60.f, 0.f, LEARNED_IN(Memory, figure, LEARNED_FIGURE)},
              {"count", 4, 0.f, 99.f, LEARNED_IN(Memory, count, LEARNED_COUNTS)},
              {"row", 3, 0.f, 99.f, LEARNED_IN(Memory, row, LEARNED_ROW)},
              {"first", 4, 0.f, 99.f, LEARNED_IN(Memory, first, LEARNED_ROW), .group = 1},
              {"second", 2, 0.f, 99.f, LEARNED_IN(Memory, second, LEARNED_ROW), .unit = 1.0 / 256.0, .group = 1}},
};

static const Memory full = {-12.5, 7, {3, 0, 5, 0}, {0, 0, 4}, {{1, 2}, {3, 4}}, {256, 3}, 8};

static void a_memory_is_stored_by_its_table(void **state)
{
    static const float wanted[] = {-12.5f, 3.f, 0.f, 5.f, 0.f, 0.f, 0.f, 4.f, 1.f, 2.f, 3.f, 4.f, 1.f, 3.f / 256.f};
    Learned l = LEARNED_WITH_ROOM;
    (void)state;
    learned_get(&table, &full, &l);
    assert_memory_equal(l.count, ((uint32_t[]){1, 3, 3, 4, 2}), 5 * sizeof *l.count);
    assert_memory_equal(l.value, wanted, sizeof wanted);
    Memory back = {.before = 7, .count = {9, 9, 9, 9}, .after = 8};
    learned_put(&table, &back, &l);
    assert_memory_equal(&back, &full, sizeof back);
}

/* Empty counts are one 0, an empty row is a row, an empty group is not there. */
static void an_empty_memory_is_a_state_too(void **state)
{
    const Memory empty = {.figure = -60.0};
    Memory back = full;
    Learned l = LEARNED_WITH_ROOM;
    (void)state;
    learned_get(&table, &empty, &l);
    assert_memory_equal(l.count, ((uint32_t[]){1, 1, 3, 0, 0}), 5 * sizeof *l.count);
    learned_clear(&table, &back);
    assert_true(back.before == 7 && back.after == 8);
    back.before = back.after = 0;
    assert_memory_equal(&back, &empty, sizeof back);
}

/* Counts come back as far as they are there; of a row, and of rows that belong together, all or nothing. */
static void a_missing_part_is_as_before_anything_is_learned(void **state)
{
    static const Memory missing = {-60.0, 7, {3}, {0}, {{0}}, {0}, 8}; /* static: its padding is zero */
    Memory back;
    Learned l = LEARNED_WITH_ROOM;
    (void)state;
    memcpy(&back, &full, sizeof back); /* with its padding */
    learned_get(&table, &full, &l);
    l.count[0] = 0;
    l.count[1] = 1;
    l.count[2] = 2;
    l.count[4] = 1;
    learned_put(&table, &back, &l);
    assert_memory_equal(&back, &missing, sizeof back);
    l.count[4] = 2;
    learned_put(&table, &back, &l);
    assert_memory_equal(&back.first, &full.first, sizeof full.first);
}

/* A row of two parts of three figures, of which older sessions had the last two each; what belongs to it had all. */
static void older_rows_are_the_last_of_each_part(void **state)
{
    typedef struct {
        uint32_t with[2], row[2][3];
    } Grown;
    static const LearnedSchema grown = {
        .fields = 2,
        .field = {{"with", 2, 0.f, 99.f, LEARNED_IN(Grown, with, LEARNED_ROW), .group = 1},
                  {"row", 6, 0.f, 99.f, LEARNED_IN(Grown, row, LEARNED_ROW), .group = 1, .parts = 2, .old = 4}},
    };
    static const float stored[] = {7.f, 8.f, 1.f, 2.f, 3.f, 4.f, 5.f, 6.f};
    Learned l = LEARNED_WITH_ROOM;
    Grown g;
    (void)state;
    memcpy(l.value, stored, sizeof stored);
    l.count[0] = 2;
    l.count[1] = 4;
    learned_put(&grown, &g, &l);
    assert_memory_equal(&g, &((Grown){{7, 8}, {{0, 1, 2}, {0, 3, 4}}}), sizeof g);
    l.count[1] = 6;
    learned_put(&grown, &g, &l);
    assert_memory_equal(&g, &((Grown){{7, 8}, {{1, 2, 3}, {4, 5, 6}}}), sizeof g);
    l.count[1] = 5; /* no session ever had so many */
    learned_put(&grown, &g, &l);
    assert_memory_equal(&g, &((Grown){{0}, {{0}}}), sizeof g);
}

static void counts_are_stored_up_to_the_last(void **state)
{
    enum { MOST = 21 };
    typedef struct {
        uint16_t count[MOST];
    } Counts;
    static const LearnedSchema counts = {
        .fields = 1, .field = {{"count", MOST, 0.f, 99.f, LEARNED_IN(Counts, count, LEARNED_COUNTS), .unit = 0.75}}};
    Learned l = LEARNED_WITH_ROOM;
    (void)state;
    for (uint32_t last = 0; last < MOST; ++last) {
        Counts c = {{0}};
        c.count[last] = (uint16_t)(last + 2);
        learned_get(&counts, &c, &l);
        assert_int_equal(l.count[0], last + 1);
        for (uint32_t i = 0; i <= last; ++i)
            assert_true(l.value[i] == (i == last ? 0.75f * (float)(last + 2) : 0.f));
    }
}

static void what_is_skipped_is_not_written(void **state)
{
    Learned l = LEARNED_WITH_ROOM;
    (void)state;
    l.skipped = 1u << 1 | 1u << 3;
    l.count[1] = l.count[3] = 77;
    learned_get(&table, &full, &l);
    assert_memory_equal(l.count, ((uint32_t[]){1, 77, 3, 77, 2}), 5 * sizeof *l.count);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fields_lie_one_after_the_other),
        cmocka_unit_test(has_room_for_its_schema),
        cmocka_unit_test(what_keeps_to_its_schema_stays),
        cmocka_unit_test(what_breaks_its_schema_is_taken_out_alone),
        cmocka_unit_test(figures_past_the_count_do_not_matter),
        cmocka_unit_test(rounding_is_to_the_nearest_256th),
        cmocka_unit_test(rounded_figures_survive_text_to_the_bit),
        cmocka_unit_test(only_hold_to_learn_while_running_starts_afresh),
        cmocka_unit_test(a_memory_is_stored_by_its_table),
        cmocka_unit_test(an_empty_memory_is_a_state_too),
        cmocka_unit_test(a_missing_part_is_as_before_anything_is_learned),
        cmocka_unit_test(older_rows_are_the_last_of_each_part),
        cmocka_unit_test(counts_are_stored_up_to_the_last),
        cmocka_unit_test(what_is_skipped_is_not_written),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
