/* The phrases of several takes of one song beside each other: in their order, by how long they are, what notes they
 * hold, how loud they are where, and when they begin, so that one that a take leaves out or adds moves none of the
 * others, and no rest need be as long as another take's.
 *
 * Two takes are aligned by a dynamic programme (Needleman and Wunsch's; from memory) over pairs of phrases. What two
 * phrases have in common speaks for their being the same by so many bits: the logarithm of how much likelier it is
 * of the same phrase than of any two, as these two takes have them: where all phrases are as long as each other, length
 * tells nothing. Beginnings count against what the last pair did (a take may begin earlier, and
 * drift), and cost little where they lie apart. A phrase without a counterpart costs a fixed price. Two phrases may
 * stand against one: a rest of 0.3 s parts phrases, and what is 0.28 s in one take may be 0.32 s in another. */
#ifndef LINCTUS_HARNESS_ALIGN_H
#define LINCTUS_HARNESS_ALIGN_H

#include "phrasing.h"

/* Phrases of one take in one row. count 0: it has none there. */
typedef struct {
    size_t first, count;
} AlignPart;

typedef struct {
    PhrasingSpan span;
    PhrasingShape shape;
} AlignPhrase;

/* Zero it to begin with. */
typedef struct {
    uint32_t takes, room; /* that were added; that there is room for */
    size_t rows;
    AlignPhrase *phrase; /* one a row, as the first take's clock has it, or would */
    AlignPart *part;     /* row by row, `room` a row */
    double alike; /* of the last take, one that was left out too: bits that speak for its pairs, a phrase of it or a row
                     before it, of which there are fewer; to what takes of one song have at least */
    size_t close; /* phrases of it in pairs that have as much */
} Align;

/* Drawn at random: test_compare.c. */
#define ALIGN_ALIKE 1.0

/* Room for so many takes. false: out of memory, and so below. */
bool align_start(Align *a, uint32_t takes);

/* The next take, of n phrases. Rows grow where it has phrases that those before it have not. */
bool align_add(Align *a, const AlignPhrase *phrase, size_t n);

/* The same, but a take that has less than ALIGN_ALIKE in common with the rows is left out: takes stays as it is, and
 * alike and close tell of it. */
bool align_try(Align *a, const AlignPhrase *phrase, size_t n);

/* Likewise, of another song: rows of its own behind the others, by its own clock. */
bool align_append(Align *a, const AlignPhrase *phrase, size_t n);

void align_free(Align *a); /* safe on a zeroed struct, and twice */

/* A take's part of a row. */
static inline AlignPart align_part(const Align *a, size_t row, uint32_t take)
{
    return a->part[row * a->room + take];
}

#endif
