#include "learned.h"

#include "inlined.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

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
    const LearnedField *field = NULL;
    f -= schema->fields;
    for (uint32_t p = 0; p < schema->parts && !field; ++p)
        field = field_of_part(&schema->part[p], &f);
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

static const void *place(const LearnedField *field, const void *memory)
{
    return (const char *)memory + field->at;
}

static double unit_of(const LearnedField *field)
{
    return field->unit > 0.0 ? field->unit : 1.0;
}

static uint32_t count_at(const LearnedField *field, const void *memory, uint32_t i)
{
    const void *count = place(field, memory);
    return field->kind == LEARNED_COUNTS ? ((const uint16_t *)count)[i] : ((const uint32_t *)count)[i];
}

/* n without the zeros at the end, dropped in whole groups of eight. */
static uint32_t without_zeros(const uint32_t *count, uint32_t n)
{
    enum { AT_ONCE = 8 };
    for (uint32_t any = 0; n >= AT_ONCE; n -= AT_ONCE) {
        UNROLLED
        for (uint32_t k = 1; k <= AT_ONCE; ++k)
            any |= count[n - k];
        if (any)
            break;
    }
    return n;
}

/* How many counts to store: up to the last that is not 0. */
static uint32_t used(const LearnedField *field, const void *memory)
{
    uint32_t n = field->kind == LEARNED_COUNTS ? field->max : without_zeros(place(field, memory), field->max);
    while (n && !count_at(field, memory, n - 1))
        --n;
    return n;
}

static bool same_group(const LearnedField *a, const LearnedField *b)
{
    return b->kind == LEARNED_ROW && b->group == a->group;
}

/* The first row of a row's group. */
static const LearnedField *leader(const LearnedSchema *schema, const LearnedField *field)
{
    const LearnedField *first = schema->field;
    while (!same_group(field, first))
        ++first;
    return first;
}

/* How many figures of a field are stored. */
static uint32_t stored(const LearnedSchema *schema, const LearnedField *field, const void *memory)
{
    if (field->kind == LEARNED_ROW)
        return field->group && !used(leader(schema, field), memory) ? 0 : field->max;
    const uint32_t n = used(field, memory);
    return n ? n : 1;
}

/* Whether a row and all rows of its group are present in full, or (old) as older sessions stored them. */
static bool row_is_there(const LearnedSchema *schema, const LearnedField *field, const Learned *from, bool old)
{
    for (uint32_t f = 0; f < schema->fields; ++f) {
        const LearnedField *other = &schema->field[f];
        const uint32_t wanted = old && other->old ? other->old : other->max;
        if ((other == field || (field->group && same_group(field, other))) && from->count[f] != wanted)
            return false;
    }
    return true;
}

/* Counts are far below 2^31, so they are converted as signed numbers, which takes one instruction. */
static void store_row(const uint32_t *restrict count, double unit, float *restrict value, uint32_t n)
{
    enum { AT_ONCE = 8 };
    uint32_t i = 0;
    for (; i + AT_ONCE <= n; i += AT_ONCE) {
        UNROLLED
        for (uint32_t k = 0; k < AT_ONCE; ++k)
            value[i + k] = (float)((int32_t)count[i + k] * unit);
    }
    for (; i < n; ++i)
        value[i] = (float)((int32_t)count[i] * unit);
}

static void store_counts(const LearnedField *field, const void *memory, float *value, uint32_t n)
{
    const double unit = unit_of(field);
    if (field->kind == LEARNED_ROW)
        store_row(place(field, memory), unit, value, n);
    else
        for (uint32_t i = 0; i < n; ++i)
            value[i] = (float)(count_at(field, memory, i) * unit);
}

/* Of one that is not coded; returns how many figures there are. */
static uint32_t get_field(const LearnedSchema *schema, const LearnedField *field, const void *memory, float *value)
{
    if (field->kind == LEARNED_FIGURE) {
        *value = (float)*(const double *)place(field, memory);
        return 1;
    }
    const uint32_t n = stored(schema, field, memory);
    store_counts(field, memory, value, n);
    return n;
}

static void get_fields(const LearnedSchema *schema, const void *memory, Learned *to)
{
    float *value = to->value;
    for (uint32_t f = 0; f < schema->fields; value += schema->field[f++].max)
        if (schema->field[f].kind != LEARNED_CODED && !(to->skipped >> f & 1u))
            to->count[f] = get_field(schema, &schema->field[f], memory, value);
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
            to->count[f] = get_field(part->schema, field, memory, value);
        }
        value += field->max;
        ++f;
    }
}

static void renew_part(const LearnedSchema *schema, const LearnedPart *part, const void *memory, Learned *to,
                       uint32_t f, float *value)
{
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

static void take_counts(const LearnedField *field, void *memory, const float *value, uint32_t n)
{
    void *count = (char *)memory + field->at;
    const double unit = unit_of(field);
    for (uint32_t i = 0; i < field->max; ++i) {
        const uint32_t taken = value && i < n ? (uint32_t)((double)value[i] / unit + 0.5) : 0;
        if (field->kind == LEARNED_COUNTS)
            ((uint16_t *)count)[i] = (uint16_t)taken;
        else
            ((uint32_t *)count)[i] = taken;
    }
}

/* Moves what an older session stored of a row to its place in the full row: the end of each part. */
static void spread_old(const LearnedField *field, uint32_t *count)
{
    const uint32_t parts = field->parts ? field->parts : 1, each = field->max / parts, had = field->old / parts;
    for (uint32_t i = field->max; i-- > 0;) {
        const uint32_t at = i % each;
        count[i] = at < each - had ? 0 : count[i / each * had + at - (each - had)];
    }
}

static void take_row(const LearnedSchema *schema, const LearnedField *field, void *memory, const Learned *from,
                     const float *value)
{
    uint32_t n = row_is_there(schema, field, from, false) ? field->max : 0;
    if (!n && row_is_there(schema, field, from, true))
        n = field->old ? field->old : field->max;
    take_counts(field, memory, value, n);
    if (n && n < field->max)
        spread_old(field, (void *)((char *)memory + field->at));
}

static void put_fields(const LearnedSchema *schema, void *memory, const Learned *from)
{
    for (uint32_t f = 0; f < schema->fields; ++f) {
        const LearnedField *field = &schema->field[f];
        const float *value = from->value ? from->value + learned_at(schema, f) : NULL;
        if (field->kind == LEARNED_FIGURE)
            *(double *)(void *)((char *)memory + field->at) = (double)(value && from->count[f] ? *value : field->lo);
        else if (field->kind == LEARNED_COUNTS)
            take_counts(field, memory, value, from->count[f]);
        else if (field->kind == LEARNED_ROW)
            take_row(schema, field, memory, from, value);
    }
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
