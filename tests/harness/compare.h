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

/* Zero it to begin with. */
typedef struct {
    const CompareTake *take;
    uint32_t takes;
    Align align;
    double offset;     /* semitones that the song lies over A4 = 440 Hz, from all takes together */
    bool sung;         /* tuning counts: it is known of all takes */
    int stranger;      /* number of a take that hardly is of the song of those before it, or COMPARE_NOBODY; with one,
                          each row is of one take alone, by its own clock, and none has a cleanest */
    size_t close;      /* phrases of the stranger that are like one of those */
    CompareCell *cell; /* row by row */
    int *cleanest;     /* one a row: number of the take, or COMPARE_NOBODY */
    uint32_t *wins;    /* one a take */
} Compare;

/* Two takes or more, each with a voice. The takes are kept, not copied. false: out of memory. Followed by
 * compare_free() in any case. */
bool compare_make(Compare *c, const CompareTake *take, uint32_t takes, Error *e);
void compare_free(Compare *c); /* safe on a zeroed struct, and twice */

static inline const CompareCell *compare_cell(const Compare *c, size_t row, uint32_t take)
{
    return &c->cell[row * c->takes + take];
}

/* A row's number: where there is a stranger, among the rows of that take. From 1. */
static inline size_t compare_number(const Compare *c, size_t row, uint32_t take)
{
    return 1 + (c->stranger < 0 ? row : compare_cell(c, row, take)->part.first);
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

/* Who has most of the cleanest phrases; or which take is of another song, why, and what to do. */
void compare_summary(const Compare *c, char text[COMPARE_TEXT]);

/* What the columns are. */
extern const char compare_legend[];

/* All of it as a table. */
void compare_print(const Compare *c, FILE *to);

#endif
