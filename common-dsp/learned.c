#include "learned.h"

#include "learned_store.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const LearnedSchema learned_nothing = {.fields = 0};

/* ---- Fields ---- */

static bool is_stored(const LearnedPart *part, uint32_t field)
{
    return !(part->without >> field & 1u);
}

/* How many fields of a part are stored. */
static uint32_t fields_of_part(const LearnedPart *part)
{
    uint32_t fields = 0;
    for (uint32_t f = 0; f < part->schema->fields; ++f)
        fields += is_stored(part, f);
    return fields;
}

/* How many figures these hold at most. */
static uint32_t room_of_part(const LearnedPart *part)
{
    uint32_t room = 0;
    for (uint32_t f = 0; f < part->schema->fields; ++f)
        room += is_stored(part, f) ? part->schema->field[f].max : 0;
    return room;
}

/* A part's stored field number *skip. NULL if it has fewer; then *skip goes down by the number it has. */
static const LearnedField *field_of_part(const LearnedPart *part, uint32_t *skip)
{
    for (uint32_t f = 0; f < part->schema->fields; ++f)
        if (is_stored(part, f) && (*skip)-- == 0)
            return &part->schema->field[f];
    return NULL;
}

uint32_t learned_fields(const LearnedSchema *schema)
{
    uint32_t fields = schema->fields;
    for (uint32_t p = 0; p < schema->parts; ++p)
        fields += fields_of_part(&schema->part[p]);
    return fields;
}

const LearnedField *learned_field_at(const LearnedSchema *schema, uint32_t f)
{
    if (f < schema->fields)
        return &schema->field[f];
    f -= schema->fields;
    const LearnedPart *part = schema->part;
    const LearnedField *field = field_of_part(part, &f);
    while (!field)
        field = field_of_part(++part, &f);
    return field;
}

uint32_t learned_at(const LearnedSchema *schema, uint32_t field)
{
    uint32_t at = 0;
    for (uint32_t f = 0; f < field; ++f)
        at += learned_field_at(schema, f)->max;
    return at;
}

uint32_t learned_room(const LearnedSchema *schema)
{
    return learned_at(schema, learned_fields(schema));
}

bool learned_init(Learned *l, const LearnedSchema *schema)
{
    const uint32_t room = learned_room(schema);
    memset(l, 0, sizeof *l);
    if (room && room <= LEARNED_MOST)
        l->value = calloc(room, sizeof *l->value);
    return l->value != NULL;
}

void learned_done(Learned *l)
{
    free(l->value);
    memset(l, 0, sizeof *l);
}

static bool field_ok(const LearnedField *field, const float *value, uint32_t count)
{
    if (count > field->max)
        return false;
    for (uint32_t i = 0; i < count; ++i)
        if (!(value[i] >= field->lo && value[i] <= field->hi))
            return false;
    return true;
}

void learned_check(const LearnedSchema *schema, Learned *l)
{
    const uint32_t fields = learned_fields(schema);
    for (uint32_t f = 0; f < fields; ++f)
        if (!field_ok(learned_field_at(schema, f), learned_field(schema, l, f), l->count[f]))
            l->count[f] = 0;
}

/* ---- From a memory and back ---- */

static void get_fields(const LearnedSchema *schema, const void *memory, Learned *to)
{
    float *value = to->value;
    for (uint32_t f = 0; f < schema->fields; value += schema->field[f++].max)
        if (schema->field[f].kind != LEARNED_CODED && !(to->skipped >> f & 1u))
            to->count[f] = learned_store(schema, &schema->field[f], memory, value);
    if (schema->write)
        schema->write(memory, to);
}

/* An empty Learned in the buffer through which a part's figures pass. */
static Learned on_the_way(const LearnedSchema *schema, const LearnedPart *part, const void *memory)
{
    return (Learned){.skipped = part->without,
                     .value = *(float *const *)(const void *)((const char *)memory + schema->room)};
}

/* Copies the stored fields of a part to fields f and up of the whole; coded ones from `way`. */
static void get_part(const LearnedPart *part, const void *memory, const Learned *way, Learned *to, uint32_t f,
                     float *value)
{
    const float *from = way->value;
    for (uint32_t k = 0; k < part->schema->fields; from += part->schema->field[k++].max) {
        const LearnedField *field = &part->schema->field[k];
        if (!is_stored(part, k))
            continue;
        if (field->kind == LEARNED_CODED) {
            to->count[f] = way->count[k];
            memcpy(value, from, way->count[k] * sizeof *value);
        } else {
            to->count[f] = learned_store(part->schema, field, memory, value);
        }
        value += field->max;
        ++f;
    }
}

/* Nothing for a part without fields. */
static void renew_part(const LearnedSchema *schema, const LearnedPart *part, const void *memory, Learned *to,
                       uint32_t f, float *value)
{
    if (!part->schema->fields)
        return;
    const void *own = (const char *)memory + part->at;
    Learned way = on_the_way(schema, part, memory);
    if (part->schema->write)
        part->schema->write(own, &way);
    get_part(part, own, &way, to, f, value);
}

static uint32_t version_of(const LearnedPart *part, const void *memory)
{
    return *(const uint32_t *)(const void *)((const char *)memory + part->version);
}

void learned_renew(const LearnedSchema *schema, const void *memory, Learned *to)
{
    const uint32_t skipped = to->skipped;
    uint32_t f = schema->fields;
    float *value = to->value + learned_at(schema, f);
    for (uint32_t p = 0; p < schema->parts; f += fields_of_part(&schema->part[p++])) {
        const LearnedPart *part = &schema->part[p];
        const uint32_t version = version_of(part, memory);
        if (to->dated && to->version[p] == version)
            to->skipped |= part->with;
        else
            renew_part(schema, part, memory, to, f, value);
        to->version[p] = version;
        value += room_of_part(part);
    }
    get_fields(schema, memory, to);
    to->skipped = skipped;
    to->dated = true;
}

void learned_get(const LearnedSchema *schema, const void *memory, Learned *to)
{
    to->dated = false;
    learned_renew(schema, memory, to);
}

static void put_fields(const LearnedSchema *schema, void *memory, const Learned *from)
{
    for (uint32_t f = 0; f < schema->fields; ++f)
        if (schema->field[f].kind != LEARNED_CODED)
            learned_restore(schema, f, memory, from);
}

/* Restores a part from fields f and up of the whole; returns their number. */
static uint32_t put_part(const LearnedPart *part, void *memory, Learned *way, const Learned *from, uint32_t f,
                         const float *value)
{
    const uint32_t first = f;
    float *to = way->value;
    for (uint32_t k = 0; k < part->schema->fields; to += part->schema->field[k++].max) {
        if (!is_stored(part, k))
            continue;
        way->count[k] = from->count[f];
        if (from->count[f])
            memcpy(to, value, from->count[f] * sizeof *value);
        value += part->schema->field[k].max;
        ++f;
    }
    void *own = (char *)memory + part->at;
    put_fields(part->schema, own, way);
    if (part->schema->read)
        part->schema->read(own, way);
    return f - first;
}

void learned_put(const LearnedSchema *schema, void *memory, const Learned *from)
{
    uint32_t f = schema->fields;
    put_fields(schema, memory, from);
    for (uint32_t p = 0; p < schema->parts; ++p) {
        if (!schema->part[p].schema->fields)
            continue;
        Learned way = on_the_way(schema, &schema->part[p], memory);
        f += put_part(&schema->part[p], memory, &way, from, f, from->value + learned_at(schema, f));
    }
    if (schema->read)
        schema->read(memory, from);
}

void learned_clear(const LearnedSchema *schema, void *memory)
{
    learned_put(schema, memory, &(Learned){.value = NULL});
}

double learned_round(double x)
{
    return round(x * 256.0) / 256.0;
}

bool learn_switch(LearnSwitch *s, bool learning)
{
    const bool afresh = s->known && learning && !s->learning;
    s->known = true;
    s->learning = learning;
    return afresh;
}
