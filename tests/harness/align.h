/* The phrases of several takes of one song beside each other: in their order, by when they begin and how long they
 * are, so that one that a take leaves out or adds moves none of the others.
 *
 * Two takes are aligned by a dynamic programme (Needleman and Wunsch's; from memory) over pairs of phrases. A pair
 * costs by how far its beginnings lie apart, less what the last pair's did (a take may begin earlier, and drift), and
 * by the ratio of its lengths; a phrase without a counterpart costs a fixed price. Two phrases may stand against one: a
 * rest of 0.3 s parts phrases, and what is 0.28 s in one take may be 0.32 s in another. */
#ifndef LINCTUS_HARNESS_ALIGN_H
#define LINCTUS_HARNESS_ALIGN_H

#include "phrasing.h"

/* Phrases of one take in one row. count 0: it has none there. */
typedef struct {
    size_t first, count;
} AlignPart;

/* Zero it to begin with. */
typedef struct {
    uint32_t takes, room; /* that were added; that there is room for */
    size_t rows;
    PhrasingSpan *span; /* one a row, as the first take's clock has it, or would */
    AlignPart *part;    /* row by row, `room` a row */
    double alike;       /* of the last take that was added: the share of its phrases, or of the rows where those are
                           fewer, that found a counterpart close by, 0..1; the first: 1 */
} Align;

/* Drawn at random (test_several.c): of takes of one song, a fifth of the phrases left out, 19 of 20 are alike by 0.8 or
 * more; those of two songs of eight phrases by 0.5 at most. Of three phrases, chance may bring two together. */
#define ALIGN_ALIKE 0.6

/* Room for so many takes. false: out of memory, and so below. */
bool align_start(Align *a, uint32_t takes);

/* The next take, of n phrases. Rows grow where it has phrases that those before it have not. */
bool align_add(Align *a, const PhrasingSpan *span, size_t n);

void align_free(Align *a); /* safe on a zeroed struct, and twice */

/* A take's part of a row. */
static inline AlignPart align_part(const Align *a, size_t row, uint32_t take)
{
    return a->part[row * a->room + take];
}

#endif
