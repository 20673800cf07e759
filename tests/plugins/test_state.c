/* The shell's two pieces that no host shows from outside: the lock-free handover, and reading a damaged state. */
#include "handover.h"
#include "state.h"

#include <lv2/atom/atom.h>

#include <math.h>
#include <pthread.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { FIGURE, MEMORY };

static const LearnedSchema schema = {
    .fields = 2,
    .field = {[FIGURE] = {"test_figure", 1, -100.f, 100.f}, [MEMORY] = {"test_memory", 1000, -100.f, 100.f}}};

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

/* ---- handover ---- */

static void reads_nothing_before_anything_is_known(void **unused)
{
    (void)unused;
    Handover *h = malloc(sizeof *h);
    Learned *read = malloc(sizeof *read);
    handover_init(h);
    handover_read(h, &schema, read);
    assert_int_equal(read->count[FIGURE], 0);
    assert_int_equal(read->count[MEMORY], 0);
    free(read);
    free(h);
}

static void reads_what_a_restore_left_before_run_took_it(void **unused)
{
    (void)unused;
    Handover *h = calloc(1, sizeof *h);
    Learned *l = calloc(1, sizeof *l), *read = calloc(1, sizeof *read);
    assert_true(h && l && read);
    handover_init(h);
    put_memory(handover_draft(h), 1.f, 5);
    handover_publish(h);
    put_figure(l, 7.f);
    handover_send(h, &schema, l);
    handover_read(h, &schema, read);
    assert_int_equal(read->count[FIGURE], 1);
    assert_true(read->value[0] == 7.f);
    assert_int_equal(read->count[MEMORY], 5);

    /* A second restore that holds another field joins the first. */
    memset(l, 0, sizeof *l);
    put_memory(l, 2.f, 3);
    handover_send(h, &schema, l);
    const Learned *taken = handover_take(h);
    assert_non_null(taken);
    assert_true(taken->value[0] == 7.f && taken->count[FIGURE] == 1);
    assert_int_equal(taken->count[MEMORY], 3);
    handover_taken(h);
    assert_null(handover_take(h));
    free(read);
    free(l);
    free(h);
}

typedef struct {
    Handover h;
    atomic_bool stop;
    unsigned taken, torn;
} Traffic;

/* Each snapshot is one value throughout, so that a torn one shows. */
static bool whole(const Learned *l)
{
    const float *memory = l->value + learned_at(&schema, MEMORY);
    for (uint32_t i = 0; i < l->count[MEMORY]; ++i)
        if (memory[i] != memory[0])
            return false;
    return true;
}

static void *audio_thread(void *data)
{
    Traffic *t = data;
    for (int turn = 0; !atomic_load(&t->stop); ++turn) {
        const Learned *in = handover_take(&t->h);
        if (in) {
            ++t->taken;
            t->torn += !whole(in);
            handover_taken(&t->h);
        }
        put_memory(handover_draft(&t->h), (float)(turn % 100), 1000);
        handover_publish(&t->h);
    }
    return NULL;
}

static void neither_side_sees_a_torn_copy(void **unused)
{
    (void)unused;
    Traffic *t = calloc(1, sizeof *t);
    Learned *l = calloc(1, sizeof *l), *read = calloc(1, sizeof *read);
    handover_init(&t->h);
    pthread_t thread;
    assert_int_equal(pthread_create(&thread, NULL, audio_thread, t), 0);
    unsigned torn = 0;
    for (int turn = 0; turn < 20000; ++turn) {
        if (turn % 3 == 0) {
            put_memory(l, (float)-(turn % 100), 1000);
            handover_send(&t->h, &schema, l);
        }
        handover_read(&t->h, &schema, read);
        torn += !whole(read);
    }
    atomic_store(&t->stop, true);
    pthread_join(thread, NULL);
    assert_int_equal(torn, 0);
    assert_int_equal(t->torn, 0);
    assert_true(t->taken > 0);
    free(read);
    free(l);
    free(t);
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
    Learned l = {{0}, {0}};
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
    Learned l = {{0}, {0}};
    state_keys_init(&keys, &schema, NULL);
    assert_int_equal(state_write(&keys, &schema, &l, store_item, &s), LV2_STATE_ERR_NO_FEATURE);
    assert_int_equal(state_read(&keys, &schema, &l, retrieve_item, &s), LV2_STATE_ERR_NO_FEATURE);
}

static void damage_takes_out_one_field_alone(void **unused)
{
    (void)unused;
    static const float nan_value = NAN, huge = 1e9f, later = 2.f;
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
        {"a later version", ITEM_VERSION, 0, 4, &later, -1, 0, 0},
        {"a version that is not a number", ITEM_VERSION, 0, 4, &nan_value, -1, 0, 0},
    };
    for (size_t i = 0; i < sizeof damage / sizeof *damage; ++i) {
        StateKeys keys;
        static Store s;
        write_good(&keys, &s);
        if (damage[i].bytes)
            memcpy(s.item[damage[i].item].body + damage[i].offset, damage[i].with, damage[i].bytes);
        if (damage[i].size >= 0)
            s.item[damage[i].item].size = (size_t)damage[i].size;
        Learned l;
        assert_int_equal(state_read(&keys, &schema, &l, retrieve_item, &s), LV2_STATE_SUCCESS);
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
    Learned l;
    assert_int_equal(state_read(&keys, &schema, &l, retrieve_item, &s), LV2_STATE_SUCCESS);
    assert_int_equal(l.count[FIGURE], 0);
    assert_int_equal(l.count[MEMORY], 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_nothing_before_anything_is_known),
        cmocka_unit_test(reads_what_a_restore_left_before_run_took_it),
        cmocka_unit_test(neither_side_sees_a_torn_copy),
        cmocka_unit_test(needs_a_map),
        cmocka_unit_test(damage_takes_out_one_field_alone),
        cmocka_unit_test(another_type_is_passed_over),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
