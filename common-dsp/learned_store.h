/* How one field of a schema (learned.h), not a coded one, is stored from a memory and restored to it. */
#ifndef LINCTUS_LEARNED_STORE_H
#define LINCTUS_LEARNED_STORE_H

#include "learned.h"

/* Stores a field of the schema's own. value: room for field->max figures. Returns how many there are. */
uint32_t learned_store(const LearnedSchema *schema, const LearnedField *field, const void *memory, float *value);

/* Restores the schema's own field number f. A field that is missing becomes what it is before anything is learned; so
 * does a row while another row of its group is. `from` without figures (value NULL): all are missing. */
void learned_restore(const LearnedSchema *schema, uint32_t f, void *memory, const Learned *from);

#endif
