/* Several takes of one song, phrase by phrase: which was recorded cleanest where, and why. What is compared is noise,
 * pops, clipping, level and tuning; who sang it best, no figure tells. */
#ifndef LINCTUS_HARNESS_COMPARE_H
#define LINCTUS_HARNESS_COMPARE_H

#include "align.h"

#include <stdio.h>

typedef enum {
    COMPARE_CLIPPING,
    COMPARE_POPS,
    COMPARE_NOISE,
    COMPARE_LEVEL,
    COMPARE_TUNING,
    COMPARE_KINDS
} CompareKind;

typedef struct {
    const char *name;
    const Phrasing *phrasing; /* heard to its end */
    bool sung;                /* Check heard it sing: its tuning counts */
} CompareTake;

/* A take in a row; without a phrase there: .part.count 0. */
typedef struct {
    AlignPart part;
    double from, to; /* s, by its own clock */
    PhrasingFigures figures;
    double points[COMPARE_KINDS], sum; /* what is wrong with it: compare_points(), of what is known of all in the row */
} CompareCell;

enum { COMPARE_NOBODY = -1 /* some are as clean as each other, or there is one alone */ };

/* What is known of a take as a whole. */
typedef struct {
    bool apart; /* it hardly is of the song of the others: its rows are of it alone, by its own clock, behind theirs */
    uint32_t place; /* its number in the alignment */
    size_t close;   /* of one that is apart: phrases that are like one of theirs */
    double offset;  /* semitones that its song lies over A4 = 440 Hz; of those that are together, from all of these */
    bool sung;      /* its tuning counts: it is known of all that are together */
    uint32_t wins;  /* rows in which it is the cleanest */
} CompareOne;

/* Zero it to begin with. */
typedef struct {
    const CompareTake *take;
    uint32_t takes;
    Align align;
    CompareOne *one;   /* one a take */
    uint32_t together; /* takes of one song, as many as could be found; 1: none goes with another, and no row has a
                          cleanest */
    uint32_t base;     /* the first of them */
    size_t rows;       /* of these; the others' follow */
    CompareCell *cell; /* row by row */
    int *cleanest;     /* one a row: number of the take, or COMPARE_NOBODY */
} Compare;

/* Two takes or more, each with a voice. The takes are kept, not copied. false: out of memory. Followed by
 * compare_free() in any case. */
bool compare_make(Compare *c, const CompareTake *take, uint32_t takes, Error *e);
void compare_free(Compare *c); /* safe on a zeroed struct, and twice */

static inline const CompareCell *compare_cell(const Compare *c, size_t row, uint32_t take)
{
    return &c->cell[row * c->takes + take];
}

/* A row's number: of a take that is apart, among its own rows. From 1. */
static inline size_t compare_number(const Compare *c, size_t row, uint32_t take)
{
    return 1 + (row < c->rows ? row : compare_cell(c, row, take)->part.first);
}

/* What a figure counts for; 0: nothing is wrong, or it is not known. See compare.c. */
double compare_points(const PhrasingFigures *f, CompareKind kind);

enum { COMPARE_TEXT = 1000 };

/* A figure as it is shown: "-18.2", "2"; "-": not known. */
void compare_figure(const PhrasingFigures *f, CompareKind kind, char text[32]);

/* "cleanest: b.wav; a.wav pops once" */
void compare_why(const Compare *c, size_t row, char text[COMPARE_TEXT]);

/* Of one take: in how many phrases it is the cleanest. */
void compare_wins(const Compare *c, uint32_t take, char text[COMPARE_TEXT]);

/* Who has most of the cleanest phrases, and which takes are of another song, why, and what to do. */
void compare_summary(const Compare *c, char text[COMPARE_TEXT]);

/* What the columns are. */
extern const char compare_legend[];

/* All of it as a table. */
void compare_print(const Compare *c, FILE *to);

#endif
