/* What no host shows from outside: how a damaged or foreign state is read. */
#include "learned_room.h"
#include "state.h"

#include <lv2/atom/atom.h>

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { FIGURE, MEMORY };

static const LearnedSchema schema = {.fields = 2,
                                     .field = {[FIGURE] = {"test_figure", 1, -100.f, 100.f, .kind = LEARNED_CODED},
                                               [MEMORY] = {"test_memory", 1000, -100.f, 100.f, .kind = LEARNED_CODED}}};

static void put_memory(Learned *l, float value, uint32_t count)
{
    l->count[MEMORY] = count;
    for (uint32_t i = 0; i < count; ++i)
        learned_field(&schema, l, MEMORY)[i] = value;
}

static void put_figure(Learned *l, float value)
{
    l->count[FIGURE] = 1;
    l->value[0] = value;
}

/* ---- state ---- */

enum { STORE_ROOM = 8 };

typedef struct {
    uint32_t items;
    struct {
        uint32_t key, type;
        size_t size;
        char body[8192];
    } item[STORE_ROOM];
} Store;

static LV2_URID map_uri(LV2_URID_Map_Handle handle, const char *uri)
{
    (void)handle;
    LV2_URID sum = 1;
    for (; *uri; ++uri)
        sum = sum * 31 + (unsigned char)*uri;
    return sum;
}

static LV2_State_Status store_item(LV2_State_Handle handle, uint32_t key, const void *value, size_t size, uint32_t type,
                                   uint32_t flags)
{
    Store *s = handle;
    assert_true(flags & LV2_STATE_IS_POD);
    assert_true(flags & LV2_STATE_IS_PORTABLE);
    assert_true(s->items < STORE_ROOM && size <= sizeof s->item[0].body);
    s->item[s->items].key = key;
    s->item[s->items].type = type;
    s->item[s->items].size = size;
    memcpy(s->item[s->items++].body, value, size);
    return LV2_STATE_SUCCESS;
}

static const void *retrieve_item(LV2_State_Handle handle, uint32_t key, size_t *size, uint32_t *type, uint32_t *flags)
{
    Store *s = handle;
    for (uint32_t i = 0; i < s->items; ++i) {
        if (s->item[i].key != key)
            continue;
        *size = s->item[i].size;
        *type = s->item[i].type;
        *flags = LV2_STATE_IS_POD | LV2_STATE_IS_PORTABLE;
        return s->item[i].body;
    }
    return NULL;
}

static const LV2_URID_Map map = {NULL, map_uri};

enum { ITEM_VERSION, ITEM_FIGURE, ITEM_MEMORY };

/* A good state of figure 7 and memory 3, 3, 3. */
static void write_good(StateKeys *keys, Store *s)
{
    Learned l = LEARNED_WITH_ROOM;
    put_figure(&l, 7.f);
    put_memory(&l, 3.f, 3);
    state_keys_init(keys, &schema, &map);
    memset(s, 0, sizeof *s);
    assert_int_equal(state_write(keys, &schema, &l, store_item, s), LV2_STATE_SUCCESS);
    assert_int_equal(s->items, 3);
}

static void needs_a_map(void **unused)
{
    (void)unused;
    StateKeys keys;
    Store s = {0};
    Learned l = LEARNED_WITH_ROOM;
    state_keys_init(&keys, &schema, NULL);
    assert_int_equal(state_write(&keys, &schema, &l, store_item, &s), LV2_STATE_ERR_NO_FEATURE);
    assert_false(keys.usable);
}

static void damage_takes_out_one_field_alone(void **unused)
{
    (void)unused;
    static const float nan_value = NAN, huge = 1e9f;
    static const uint32_t eight = 8;
    static const struct {
        const char *what;
        uint32_t item;
        size_t offset, bytes; /* what to overwrite, with what */
        const void *with;
        long size; /* new size, or -1 */
        uint32_t figures, memories;
    } damage[] = {
        {"nothing", ITEM_FIGURE, 0, 0, NULL, -1, 1, 3},
        {"figure not a number", ITEM_FIGURE, 0, 4, &nan_value, -1, 0, 3},
        {"figure out of limits", ITEM_FIGURE, 0, 4, &huge, -1, 0, 3},
        {"figure cut short", ITEM_FIGURE, 0, 0, NULL, 2, 0, 3},
        {"a memory not a number", ITEM_MEMORY, 12, 4, &nan_value, -1, 1, 0},
        {"memory cut within a number", ITEM_MEMORY, 0, 0, NULL, 15, 1, 0},
        {"memory cut to its head", ITEM_MEMORY, 0, 0, NULL, 8, 1, 0},
        {"memory cut within its head", ITEM_MEMORY, 0, 0, NULL, 5, 1, 0},
        {"memory empty", ITEM_MEMORY, 0, 0, NULL, 0, 1, 0},
        {"a memory of another size of number", ITEM_MEMORY, 0, 4, &eight, -1, 1, 0},
        {"memory too long", ITEM_MEMORY, 0, 0, NULL, 8 + 4 * 1001, 1, 0},
        {"memory one figure shorter", ITEM_MEMORY, 0, 0, NULL, 16, 1, 2},
        {"a version cut short", ITEM_VERSION, 0, 0, NULL, 2, 1, 3},
    };
    for (size_t i = 0; i < sizeof damage / sizeof *damage; ++i) {
        StateKeys keys;
        static Store s;
        write_good(&keys, &s);
        if (damage[i].bytes)
            memcpy(s.item[damage[i].item].body + damage[i].offset, damage[i].with, damage[i].bytes);
        if (damage[i].size >= 0)
            s.item[damage[i].item].size = (size_t)damage[i].size;
        Learned l = LEARNED_WITH_ROOM;
        put_figure(&l, 1.f); /* of before: nothing of it stays */
        put_memory(&l, 1.f, 1000);
        assert_true(state_is_there(&keys, &schema, retrieve_item, &s));
        state_read(&keys, &schema, &l, retrieve_item, &s);
        if (l.count[FIGURE] != damage[i].figures || l.count[MEMORY] != damage[i].memories)
            fail_msg("%s: read %u figures and %u memories", damage[i].what, l.count[FIGURE], l.count[MEMORY]);
    }
}

static void another_type_is_passed_over(void **unused)
{
    (void)unused;
    StateKeys keys;
    static Store s;
    write_good(&keys, &s);
    s.item[ITEM_FIGURE].type = keys.type_vector;
    s.item[ITEM_MEMORY].type = keys.type_float;
    Learned l = LEARNED_WITH_ROOM;
    assert_true(state_is_there(&keys, &schema, retrieve_item, &s));
    state_read(&keys, &schema, &l, retrieve_item, &s);
    assert_int_equal(l.count[FIGURE], 0);
    assert_int_equal(l.count[MEMORY], 0);
}

/* Of a state that is not there nothing is read, what is known stays: a later version's, or a preset of controls. */
static void what_is_no_state_is_told(void **unused)
{
    (void)unused;
    static const float version[] = {2.f, NAN, INFINITY};
    StateKeys keys;
    static Store s;
    for (size_t i = 0; i < sizeof version / sizeof *version; ++i) {
        write_good(&keys, &s);
        memcpy(s.item[ITEM_VERSION].body, &version[i], sizeof version[i]);
        assert_false(state_is_there(&keys, &schema, retrieve_item, &s));
    }
    write_good(&keys, &s);
    s.items = 1; /* the version alone: nothing is known, and that is a state */
    assert_true(state_is_there(&keys, &schema, retrieve_item, &s));
    s.items = 0;
    assert_false(state_is_there(&keys, &schema, retrieve_item, &s));
    write_good(&keys, &s);
    s.item[ITEM_VERSION].key = 0;
    assert_true(state_is_there(&keys, &schema, retrieve_item, &s)); /* any key of ours will do */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(needs_a_map),
        cmocka_unit_test(damage_takes_out_one_field_alone),
        cmocka_unit_test(another_type_is_passed_over),
        cmocka_unit_test(what_is_no_state_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
