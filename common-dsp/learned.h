/* What a processor has learned, as plain numbers that can be stored and restored exactly.
 *
 * A schema is a table of fields: each one's name, its limits, and how it lies in the processor's memory (a struct of
 * its own). Storing, restoring and clearing that memory follow from the table. A missing field has count 0, and a field
 * outside its limits is treated as missing. A Learned is a complete state: putting it into a memory replaces
 * everything, and missing fields are set to what they are before anything is learned.
 *
 * Hosts write numbers as text with eight decimals, so processors keep what they learn in steps of 1/256
 * (learned_round()). Such a number, up to 65536, is restored to the bit. */
#ifndef LINCTUS_LEARNED_H
#define LINCTUS_LEARNED_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    LEARNED_FIELDS = 28,  /* most fields of a schema, including those of its parts */
    LEARNED_PARTS = 5,    /* most parts of a schema */
    LEARNED_MOST = 20480, /* most figures of a schema, all fields together */
};

/* The type of a field in the memory, and how it is stored. Before anything is learned counts are 0 and a figure is at
 * its lower limit. */
typedef enum {
    LEARNED_CODED,  /* any type: converted by the schema's own write and read */
    LEARNED_FIGURE, /* a double */
    LEARNED_COUNTS, /* uint16_t[max] of a tally (tally.h): stored up to the last that is not 0, at least one; any number
                       of them can be restored, the rest become 0 */
    LEARNED_ROW,    /* uint32_t[max]: all of them are stored, and fewer are not restored */
} LearnedKind;

typedef struct {
    const char *name; /* key it is stored under: [a-z_]+, unique among all plug-ins */
    uint32_t max;     /* most figures it can hold, 1 or more */
    float lo, hi;     /* limits of every figure as stored */
    LearnedKind kind;
    size_t at;      /* offset in the memory, bytes */
    double unit;    /* figure stored for a count of 1: 1/256 or more, for a row a power of two; 0 means 1 */
    uint32_t group; /* rows with the same number, 1 or more, belong together: while the first of them is all 0 none is
                       stored, and if one is missing none is restored. 0: a row by itself, always stored */
    uint32_t parts, old; /* a row of `parts` equal parts, of which older sessions stored only the last figures of each,
                            `old` in all, in every row of its group. 0 and 0: one part, no other length */
} LearnedField;

/* In a table of fields: the kind of a field, and the member of the memory it is stored from. */
#define LEARNED_IN(type, member, as) .kind = (as), .at = offsetof(type, member)

typedef struct Learned Learned;
typedef struct LearnedSchema LearnedSchema;

/* A memory with its own schema that lies inside another memory; the parts of that schema are not asked. A part whose
 * schema has no fields, as learned_nothing, only tells when the fields in `with` change. */
typedef struct {
    const LearnedSchema *schema;
    size_t at;        /* offset in the other memory, bytes */
    uint32_t without; /* a bit for each field: set, it is not stored, and a restore clears it */
    size_t version;   /* offset in the other memory, bytes, of a uint32_t that changes whenever this part does */
    uint32_t with;    /* a bit for each field of the other schema: set, it follows from this part alone */
} LearnedPart;

struct LearnedSchema {
    uint32_t fields; /* its own, without those of its parts */
    LearnedField field[LEARNED_FIELDS];
    void (*write)(const void *memory, Learned *to);  /* stores the coded fields with their counts, after the parts */
    void (*read)(void *memory, const Learned *from); /* restores them, after the parts. Both NULL: no coded fields */

    uint32_t parts; /* their fields follow the schema's own, in order */
    const LearnedPart *part;
    size_t room; /* offset in the memory of a float *: a buffer with room for the figures of any one part with fields */
};

extern const LearnedSchema learned_nothing; /* no fields */

struct Learned {
    uint32_t count[LEARNED_FIELDS];  /* figures of each field; 0: missing */
    uint32_t skipped;                /* a bit for each field: set, learned_get() need not write its figures */
    float *value;                    /* figures, each field's from learned_at() on; room for learned_room() of them */
    uint32_t version[LEARNED_PARTS]; /* of each part when its figures were written */
    bool dated;                      /* `version` holds: see learned_renew() */
};

/* The number of fields of the schema and its parts; and field f of them, f below that number. */
uint32_t learned_fields(const LearnedSchema *schema);
const LearnedField *learned_field_at(const LearnedSchema *schema, uint32_t f);

/* Index in `value` of the field's first figure. */
uint32_t learned_at(const LearnedSchema *schema, uint32_t field);

/* The most figures that all fields together can hold. */
uint32_t learned_room(const LearnedSchema *schema);

/* Makes it empty, all fields missing. Allocates; false: no memory, or a schema of no figures or over LEARNED_MOST. */
bool learned_init(Learned *l, const LearnedSchema *schema);
void learned_done(Learned *l); /* safe on a zeroed one */

/* The figures of one field, to write or read. */
static inline float *learned_field(const LearnedSchema *schema, Learned *l, uint32_t field)
{
    return l->value + learned_at(schema, field);
}

/* Removes (count 0) every field that breaks its schema: too many figures, or any not finite or outside the limits. */
void learned_check(const LearnedSchema *schema, Learned *l);

/* Stores all fields of the memory. `to`: from learned_init() with the same schema. */
void learned_get(const LearnedSchema *schema, const void *memory, Learned *to);

/* As learned_get(), but parts that have not changed since `to` was last got or renewed from this memory are left as
 * they are. Whoever wrote anything else into `to` since then sets `dated` to false. */
void learned_renew(const LearnedSchema *schema, const void *memory, Learned *to);

/* Restores all fields of the memory. `from` has passed learned_check(). */
void learned_put(const LearnedSchema *schema, void *memory, const Learned *from);

/* Sets all fields to what they are before anything is learned. The schema has no coded fields. */
void learned_clear(const LearnedSchema *schema, void *memory);

/* x to the nearest step of 1/256. */
double learned_round(double x);

/* A learn / hold switch. Learning starts afresh only where it goes from hold to learn while running. Zero it on reset.
 */
typedef struct {
    bool known, learning; /* a position was set since the reset; that position */
} LearnSwitch;

/* Sets the position; true when learning has to start afresh. */
bool learn_switch(LearnSwitch *s, bool learning);

#endif
