#include "state.h"

#include <lv2/atom/atom.h>

#include <stdlib.h>
#include <string.h>

#define STATE_PREFIX "urn:linctus:state#"

static const float state_version = 1.f;

static LV2_URID map_key(const LV2_URID_Map *map, const char *name)
{
    char uri[96] = STATE_PREFIX;
    strncat(uri, name, sizeof uri - sizeof STATE_PREFIX);
    return map->map(map->handle, uri);
}

void state_keys_init(StateKeys *keys, const LearnedSchema *schema, const LV2_URID_Map *map)
{
    memset(keys, 0, sizeof *keys);
    if (!map)
        return;
    keys->usable = true;
    keys->version = map_key(map, "version");
    keys->type_float = map->map(map->handle, LV2_ATOM__Float);
    keys->type_vector = map->map(map->handle, LV2_ATOM__Vector);
    for (uint32_t f = 0; f < learned_fields(schema); ++f)
        keys->field[f] = map_key(map, learned_field_at(schema, f)->name);
}

static LV2_State_Status write_figure(const StateKeys *keys, LV2_URID key, float value, LV2_State_Store_Function store,
                                     LV2_State_Handle handle)
{
    return store(handle, key, &value, sizeof value, keys->type_float, LV2_STATE_IS_POD | LV2_STATE_IS_PORTABLE);
}

/* Stores a field as the body of an atom:Vector: its head, then the figures. */
static LV2_State_Status write_memory(const StateKeys *keys, LV2_URID key, const float *value, uint32_t count,
                                     LV2_State_Store_Function store, LV2_State_Handle handle)
{
    const LV2_Atom_Vector_Body head = {.child_size = sizeof *value, .child_type = keys->type_float};
    const size_t size = sizeof head + count * sizeof *value;
    char *body = malloc(size);
    if (!body)
        return LV2_STATE_ERR_UNKNOWN;
    memcpy(body, &head, sizeof head);
    memcpy(body + sizeof head, value, count * sizeof *value);
    const LV2_State_Status status =
        store(handle, key, body, size, keys->type_vector, LV2_STATE_IS_POD | LV2_STATE_IS_PORTABLE);
    free(body);
    return status;
}

LV2_State_Status state_write(const StateKeys *keys, const LearnedSchema *schema, const Learned *from,
                             LV2_State_Store_Function store, LV2_State_Handle handle)
{
    if (!keys->usable)
        return LV2_STATE_ERR_NO_FEATURE;
    LV2_State_Status status = write_figure(keys, keys->version, state_version, store, handle);
    for (uint32_t f = 0; f < learned_fields(schema) && status == LV2_STATE_SUCCESS; ++f) {
        if (!from->count[f])
            continue;
        const float *value = from->value + learned_at(schema, f);
        status = learned_field_at(schema, f)->max == 1
                     ? write_figure(keys, keys->field[f], *value, store, handle)
                     : write_memory(keys, keys->field[f], value, from->count[f], store, handle);
    }
    return status;
}

/* Reads a stored field and returns how many figures it has; 0: it is missing or not as it should be. A vector's child
 * type is not checked: a host that stores raw bytes brings back the number of another session. */
static uint32_t read_field(const StateKeys *keys, LV2_URID key, uint32_t max, float *value,
                           LV2_State_Retrieve_Function retrieve, LV2_State_Handle handle)
{
    size_t size = 0;
    uint32_t type = 0, flags = 0;
    const void *body = retrieve(handle, key, &size, &type, &flags);
    if (!body)
        return 0;
    if (max == 1) {
        if (type != keys->type_float || size != sizeof *value)
            return 0;
        memcpy(value, body, sizeof *value);
        return 1;
    }
    LV2_Atom_Vector_Body head;
    if (type != keys->type_vector || size <= sizeof head)
        return 0;
    memcpy(&head, body, sizeof head);
    const size_t bytes = size - sizeof head;
    if (head.child_size != sizeof *value || bytes % sizeof *value || bytes / sizeof *value > max)
        return 0;
    memcpy(value, (const char *)body + sizeof head, bytes);
    return (uint32_t)(bytes / sizeof *value);
}

static bool is_stored(LV2_URID key, LV2_State_Retrieve_Function retrieve, LV2_State_Handle handle)
{
    size_t size = 0;
    uint32_t type = 0, flags = 0;
    return retrieve(handle, key, &size, &type, &flags) != NULL;
}

/* A valid version decides; without one, any key of ours makes it a state. */
bool state_is_there(const StateKeys *keys, const LearnedSchema *schema, LV2_State_Retrieve_Function retrieve,
                    LV2_State_Handle handle)
{
    float version;
    if (read_field(keys, keys->version, 1, &version, retrieve, handle))
        return version <= state_version;
    bool there = is_stored(keys->version, retrieve, handle);
    for (uint32_t f = 0; f < learned_fields(schema) && !there; ++f)
        there = is_stored(keys->field[f], retrieve, handle);
    return there;
}

void state_read(const StateKeys *keys, const LearnedSchema *schema, Learned *to, LV2_State_Retrieve_Function retrieve,
                LV2_State_Handle handle)
{
    for (uint32_t f = 0; f < learned_fields(schema); ++f)
        to->count[f] = read_field(keys, keys->field[f], learned_field_at(schema, f)->max, learned_field(schema, to, f),
                                  retrieve, handle);
    learned_check(schema, to);
}
