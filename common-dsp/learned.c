#include "learned.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

uint32_t learned_at(const LearnedSchema *schema, uint32_t field)
{
    uint32_t at = 0;
    for (uint32_t f = 0; f < field; ++f)
        at += schema->field[f].max;
    return at;
}

uint32_t learned_room(const LearnedSchema *schema)
{
    return learned_at(schema, schema->fields);
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
    for (uint32_t f = 0; f < schema->fields; ++f)
        if (!field_ok(&schema->field[f], learned_field(schema, l, f), l->count[f]))
            l->count[f] = 0;
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
