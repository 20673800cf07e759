/* For tests: a Learned with room for any schema, on the stack, in which nothing is there. */
#ifndef LINCTUS_LEARNED_ROOM_H
#define LINCTUS_LEARNED_ROOM_H

#include "learned.h"

#include <string.h>

#define LEARNED_WITH_ROOM                                                                                              \
    {                                                                                                                  \
        .count = {0}, .value = (float[LEARNED_MOST])                                                                   \
        {                                                                                                              \
            0                                                                                                          \
        }                                                                                                              \
    }

static inline void learned_copy(const LearnedSchema *schema, Learned *to, const Learned *from)
{
    memcpy(to->count, from->count, sizeof to->count);
    memcpy(to->value, from->value, learned_room(schema) * sizeof *to->value);
}

/* Field by field; what lies beyond a field's count is nobody's. */
static inline bool learned_same(const LearnedSchema *schema, const Learned *a, const Learned *b)
{
    for (uint32_t f = 0; f < learned_fields(schema); ++f) {
        const uint32_t at = learned_at(schema, f);
        if (a->count[f] != b->count[f] || memcmp(a->value + at, b->value + at, a->count[f] * sizeof *a->value) != 0)
            return false;
    }
    return true;
}

#endif
