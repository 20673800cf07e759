/* Stores one field of a schema (learned.h) from a memory and restores it. Coded fields are not done here. */
#ifndef LINCTUS_LEARNED_STORE_H
#define LINCTUS_LEARNED_STORE_H

#include "learned.h"

/* Stores a field that is the schema's own. value: room for field->max figures. Returns how many were stored. */
uint32_t learned_store(const LearnedSchema *schema, const LearnedField *field, const void *memory, float *value);

/* Restores the schema's own field number f. A missing field gets the value it has before anything is learned; so does a
 * row if another row of its group is missing. If `from` has no figures (value NULL), every field is missing. */
void learned_restore(const LearnedSchema *schema, uint32_t f, void *memory, const Learned *from);

#endif
