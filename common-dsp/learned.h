/* What a processor has learned, as plain numbers that can be stored and come back exactly.
 *
 * A schema names the fields; a field is one figure (max 1) or a memory of up to max figures. A field that is not there
 * has count 0, and one outside its schema's limits counts as not there. A Learned is the whole of what is known: put
 * into a processor it replaces everything, and a field that is not there becomes what it is before anything is learned.
 *
 * Hosts write numbers as text with eight decimals, so a processor keeps what it learns in steps of
 * 1/256 (learned_round): such a number, up to 65536, comes back to the bit. */
#ifndef LINCTUS_LEARNED_H
#define LINCTUS_LEARNED_H

#include <stdbool.h>
#include <stdint.h>

enum {
    LEARNED_FIELDS = 12,  /* most fields of a schema */
    LEARNED_MOST = 16384, /* most figures of all fields together */
};

typedef struct {
    const char *name; /* [a-z_]+, unique among all plug-ins: the key it is stored under */
    uint32_t max;     /* figures it may hold, 1 or more */
    float lo, hi;     /* limits of every figure */
} LearnedField;

typedef struct {
    uint32_t fields;
    LearnedField field[LEARNED_FIELDS];
} LearnedSchema;

typedef struct {
    uint32_t count[LEARNED_FIELDS]; /* 0: not there */
    float *value;                   /* field by field, each at learned_at(); room for learned_room() figures */
} Learned;

/* Where the field's figures start in `value`. */
uint32_t learned_at(const LearnedSchema *schema, uint32_t field);

/* Figures of all fields together. */
uint32_t learned_room(const LearnedSchema *schema);

/* Nothing is there. Allocates; false: no memory, or a schema of no figures or of more than
 * LEARNED_MOST. */
bool learned_init(Learned *l, const LearnedSchema *schema);
void learned_done(Learned *l); /* safe on a zeroed one */

/* Figures of one field, for writing and reading. */
static inline float *learned_field(const LearnedSchema *schema, Learned *l, uint32_t field)
{
    return l->value + learned_at(schema, field);
}

/* Takes out (count 0) every field that breaks its schema: too many figures, or one that is not finite or out of limits.
 */
void learned_check(const LearnedSchema *schema, Learned *l);

/* To the nearest step of 1/256. */
double learned_round(double x);

/* A learn / hold switch: only hold -> learn while running starts afresh. Zero it on reset. */
typedef struct {
    bool known, learning;
} LearnSwitch;

/* Takes the switch's new position; true when learning has to start afresh. */
bool learn_switch(LearnSwitch *s, bool learning);

#endif
