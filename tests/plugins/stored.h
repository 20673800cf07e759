/* What a plug-in learned, taken and given back through its own interface, as a host does it that keeps no text: what a
 * text costs to read, for a plug-in that learned much, is more than a run. */
#ifndef LINCTUS_STORED_H
#define LINCTUS_STORED_H

#include "every.h"
#include "learned.h"

enum { ITEMS = LEARNED_FIELDS + 1 }; /* and the version */

/* A state as the plug-in stores it, and hands out again. */
typedef struct {
    struct {
        uint32_t key, type, flags;
        size_t size;
        char value[32768];
    } item[ITEMS];
    int items;
} Stored;

static inline LV2_State_Status store_item(LV2_State_Handle handle, uint32_t key, const void *value, size_t size,
                                          uint32_t type, uint32_t flags)
{
    Stored *s = handle;
    assert_true(s->items < ITEMS && size <= sizeof s->item->value);
    s->item[s->items].key = key;
    s->item[s->items].type = type;
    s->item[s->items].flags = flags;
    s->item[s->items].size = size;
    memcpy(s->item[s->items++].value, value, size);
    return LV2_STATE_SUCCESS;
}

static inline const void *retrieve_item(LV2_State_Handle handle, uint32_t key, size_t *size, uint32_t *type,
                                        uint32_t *flags)
{
    const Stored *s = handle;
    for (int k = 0; k < s->items; ++k) {
        if (s->item[k].key != key)
            continue;
        *size = s->item[k].size;
        *type = s->item[k].type;
        *flags = s->item[k].flags;
        return s->item[k].value;
    }
    return NULL;
}

static inline void save_raw(const Case *c, Instance *i, Stored *s)
{
    memset(s, 0, sizeof *s);
    assert_int_equal(
        instance_state(i)->save(instance_handle(i), store_item, s, LV2_STATE_IS_POD, host_features(c->host)),
        LV2_STATE_SUCCESS);
}

static inline void restore_raw(const Case *c, Instance *i, Stored *s)
{
    assert_int_equal(instance_state(i)->restore(instance_handle(i), retrieve_item, s, 0, host_features(c->host)),
                     LV2_STATE_SUCCESS);
}

#endif
