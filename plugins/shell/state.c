#include "state.h"

#include <lv2/atom/atom.h>

#include <string.h>

#define STATE_PREFIX "urn:linctus:state#"

static const float state_version = 1.f;

/* An atom:Vector's body as it is stored. */
typedef struct {
    LV2_Atom_Vector_Body head;
    float value[LEARNED_ROOM];
} VectorBody;

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
    for (uint32_t f = 0; f < schema->fields; ++f)
        keys->field[f] = map_key(map, schema->field[f].name);
}

static LV2_State_Status write_field(const StateKeys *keys, LV2_URID key, uint32_t max, const float *value,
                                    uint32_t count, LV2_State_Store_Function store, LV2_State_Handle handle)
{
    const uint32_t flags = LV2_STATE_IS_POD | LV2_STATE_IS_PORTABLE;
    if (max == 1)
        return store(handle, key, value, sizeof *value, keys->type_float, flags);
    VectorBody body = {.head = {.child_size = sizeof *value, .child_type = keys->type_float}};
    memcpy(body.value, value, count * sizeof *value);
    return store(handle, key, &body, sizeof body.head + count * sizeof *value, keys->type_vector, flags);
}

LV2_State_Status state_write(const StateKeys *keys, const LearnedSchema *schema, const Learned *from,
                             LV2_State_Store_Function store, LV2_State_Handle handle)
{
    if (!keys->usable)
        return LV2_STATE_ERR_NO_FEATURE;
    LV2_State_Status status = write_field(keys, keys->version, 1, &state_version, 1, store, handle);
    for (uint32_t f = 0; f < schema->fields && status == LV2_STATE_SUCCESS; ++f)
        if (from->count[f])
            status = write_field(keys, keys->field[f], schema->field[f].max, from->value + learned_at(schema, f),
                                 from->count[f], store, handle);
    return status;
}

/* Figures of one stored value; 0 when it is not there or not what it should be. A vector's child type is not looked at:
 * a host that stores raw bytes brings back another session's number. */
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

LV2_State_Status state_read(const StateKeys *keys, const LearnedSchema *schema, Learned *to,
                            LV2_State_Retrieve_Function retrieve, LV2_State_Handle handle)
{
    memset(to->count, 0, sizeof to->count);
    if (!keys->usable)
        return LV2_STATE_ERR_NO_FEATURE;
    float version = state_version;
    if (read_field(keys, keys->version, 1, &version, retrieve, handle) && !(version <= state_version))
        return LV2_STATE_SUCCESS;
    for (uint32_t f = 0; f < schema->fields; ++f)
        to->count[f] =
            read_field(keys, keys->field[f], schema->field[f].max, learned_field(schema, to, f), retrieve, handle);
    learned_check(schema, to);
    return LV2_STATE_SUCCESS;
}
