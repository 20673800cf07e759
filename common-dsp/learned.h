/* What a processor has learned, as plain numbers that can be stored and come back exactly.
 *
 * A schema is a table of fields: the name of each, its limits, and how it lies in the processor's memory (a struct of
 * its own). Storing, restoring and emptying that memory follow from the table. A field that is not there has count 0,
 * and one outside its limits counts as not there. A Learned is the whole of what is known: put into a memory it
 * replaces everything, and a field that is not there becomes what it is before anything is learned.
 *
 * Hosts write numbers as text with eight decimals, so a processor keeps what it learns in steps of
 * 1/256 (learned_round): such a number, up to 65536, comes back to the bit. */
#ifndef LINCTUS_LEARNED_H
#define LINCTUS_LEARNED_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    LEARNED_FIELDS = 28,  /* most fields of a schema, those of its parts among them */
    LEARNED_PARTS = 5,    /* most parts of a schema */
    LEARNED_MOST = 16384, /* most figures of all fields together */
};

/* What lies in the memory, and how it is stored. Before anything is learned counts are 0, a figure is its lower limit.
 */
typedef enum {
    LEARNED_CODED,  /* what the schema's own write and read make of it */
    LEARNED_FIGURE, /* a double */
    LEARNED_COUNTS, /* uint16_t[max], of a tally (tally.h): up to the last that is not 0, but at least one; any number
                       of them comes back */
    LEARNED_ROW,    /* uint32_t[max]: all of them, or the field is not there */
} LearnedKind;

typedef struct {
    const char *name; /* [a-z_]+, unique among all plug-ins: the key it is stored under */
    uint32_t max;     /* figures it may hold, 1 or more */
    float lo, hi;     /* limits of every figure */
    LearnedKind kind;
    size_t at;      /* where it lies in the memory, bytes */
    double unit;    /* a count is stored as so much: 1/256 or more; 0 stands for 1 */
    uint32_t group; /* rows of one group, from 1 on, belong together: none is stored while the first of them is all 0,
                       none is taken where one is missing. 0: a row by itself, always stored */
    uint32_t parts, old; /* older sessions have `old` figures of a row, as its group has: the last ones of each of its
                            `parts`. 0 and 0: one part, no other length */
} LearnedField;

/* In a table: the kind of a field and the member of the memory that it is. */
#define LEARNED_IN(type, member, as) .kind = (as), .at = offsetof(type, member)

typedef struct Learned Learned;
typedef struct LearnedSchema LearnedSchema;

/* A memory with a schema of its own that lies in another one. Parts have no parts. One whose schema has no fields only
 * tells when the fields in `with` move. */
typedef struct {
    const LearnedSchema *schema;
    size_t at;        /* where it lies in the other memory, bytes */
    uint32_t without; /* a bit a field: it is not stored, and restored it is as before anything is learned */
    size_t version;   /* where in the other memory a uint32_t lies that moves whenever this part does, bytes */
    uint32_t with;    /* a bit a coded field of the other schema's own: it follows from this part alone */
} LearnedPart;

struct LearnedSchema {
    uint32_t fields; /* of its own */
    LearnedField field[LEARNED_FIELDS];
    void (*write)(const void *memory, Learned *to);  /* the coded fields alone, every count of them; NULL: there are */
    void (*read)(void *memory, const Learned *from); /* none. Both after the parts */

    uint32_t parts; /* their fields follow, in order */
    const LearnedPart *part;
    size_t room; /* where in the memory a float * lies, to room for the figures of any of the parts */
};

struct Learned {
    uint32_t count[LEARNED_FIELDS];  /* 0: not there */
    uint32_t skipped;                /* a bit a field, for getting: it need not be written */
    float *value;                    /* field by field, each at learned_at(); room for learned_room() figures */
    uint32_t version[LEARNED_PARTS]; /* of each part, that its figures are of, */
    bool dated;                      /* if they are known: see learned_renew() */
};

/* How many fields the schema and its parts have; the f-th of them, f under that. */
uint32_t learned_fields(const LearnedSchema *schema);
const LearnedField *learned_field_at(const LearnedSchema *schema, uint32_t f);

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

/* All that the memory holds. `to` has the room of the schema. */
void learned_get(const LearnedSchema *schema, const void *memory, Learned *to);

/* The same, quicker: parts that have not moved since `to` was last got or renewed from this memory are left as they
 * are. Whoever wrote anything else into `to` since then sets `dated` to false. */
void learned_renew(const LearnedSchema *schema, const void *memory, Learned *to);

/* Replaces all that the memory holds in fields of the schema. `from` has passed learned_check(). */
void learned_put(const LearnedSchema *schema, void *memory, const Learned *from);

/* As before anything is learned: for a schema without coded fields. */
void learned_clear(const LearnedSchema *schema, void *memory);

/* To the nearest step of 1/256. */
double learned_round(double x);

/* A learn / hold switch: only hold -> learn while running starts afresh. Zero it on reset. */
typedef struct {
    bool known, learning;
} LearnSwitch;

/* Takes the switch's new position; true when learning has to start afresh. */
bool learn_switch(LearnSwitch *s, bool learning);

#endif
