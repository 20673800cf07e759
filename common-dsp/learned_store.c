#include "learned_store.h"

#include "inlined.h"

#include <string.h>

/* ---- From a memory ---- */

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

enum { AT_ONCE = 8 };

/* n less the zeros at the end, dropped in whole groups. */
static uint32_t without_zeros(const uint32_t *count, uint32_t n)
{
    for (uint32_t any = 0; n >= AT_ONCE; n -= AT_ONCE) {
        UNROLLED
        for (uint32_t k = 1; k <= AT_ONCE; ++k)
            any |= count[n - k];
        if (any)
            break;
    }
    return n;
}

/* The same for counts of 16 bits, in groups of four, which are read as one number. */
static uint32_t without_short_zeros(const uint16_t *count, uint32_t n)
{
    enum { BESIDE = 4 };
    for (uint64_t four; n >= BESIDE; n -= BESIDE) {
        memcpy(&four, count + n - BESIDE, sizeof four);
        if (four)
            break;
    }
    return n;
}

/* How many counts to store: all up to the last that is not 0. */
static uint32_t used(const LearnedField *field, const void *memory)
{
    uint32_t n = field->kind == LEARNED_COUNTS ? without_short_zeros(place(field, memory), field->max)
                                               : without_zeros(place(field, memory), field->max);
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

/* Counts are far below 2^31, so they are converted as signed numbers, which takes one instruction; a unit that is a
 * power of two only moves the exponent. */
static void store_row(const uint32_t *restrict count, float unit, float *restrict value, uint32_t n)
{
    const uint32_t most = n / AT_ONCE * AT_ONCE;
    for (uint32_t i = 0; i < most; i += AT_ONCE) {
        UNROLLED
        for (uint32_t k = 0; k < AT_ONCE; ++k)
            value[i + k] = (float)(int32_t)count[i + k] * unit;
    }
    for (uint32_t i = most; i < n; ++i)
        value[i] = (float)(int32_t)count[i] * unit;
}

/* Counts of 16 bits, unscaled. */
static void store_short(const uint16_t *restrict count, float *restrict value, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i)
        value[i] = (float)count[i];
}

static void store_counts(const LearnedField *field, const void *memory, float *value, uint32_t n)
{
    const double unit = unit_of(field);
    if (field->kind == LEARNED_ROW)
        store_row(place(field, memory), (float)unit, value, n);
    else if (field->kind == LEARNED_COUNTS && unit == 1.0)
        store_short(place(field, memory), value, n);
    else
        for (uint32_t i = 0; i < n; ++i)
            value[i] = (float)(count_at(field, memory, i) * unit);
}

uint32_t learned_store(const LearnedSchema *schema, const LearnedField *field, const void *memory, float *value)
{
    if (field->kind == LEARNED_FIGURE) {
        *value = (float)*(const double *)place(field, memory);
        return 1;
    }
    const uint32_t n = stored(schema, field, memory);
    store_counts(field, memory, value, n);
    return n;
}

/* ---- And back ---- */

/* Whether a row and all rows of its group are present: in full, or, if `old`, as long as older sessions stored them. */
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

/* Moves the counts that an older session stored of a row to their place in the full row: the end of each part. */
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

void learned_restore(const LearnedSchema *schema, uint32_t f, void *memory, const Learned *from)
{
    const LearnedField *field = &schema->field[f];
    const float *value = from->value ? from->value + learned_at(schema, f) : NULL;
    if (field->kind == LEARNED_FIGURE)
        *(double *)(void *)((char *)memory + field->at) = (double)(value && from->count[f] ? *value : field->lo);
    else if (field->kind == LEARNED_COUNTS)
        take_counts(field, memory, value, from->count[f]);
    else
        take_row(schema, field, memory, from, value);
}
