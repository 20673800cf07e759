/* The figures that a report's pictures are drawn from. */
#ifndef LINCTUS_HARNESS_FACTS_H
#define LINCTUS_HARNESS_FACTS_H

#include "look.h"
#include "report.h"

enum {
    FACTS_LANES = 16,
    FACTS_MARKS = 120, /* most marks in a lane; more grow together */
    FACTS_BARS = 240,  /* most bars of phrases, likewise */
    FACTS_COLUMNS = 300,
    FACTS_LEVELS = 60, /* columns of 1 dB, from -60 dB up to 0 */
};

/* When, in seconds of the take. */
typedef struct {
    double from, to;
} Stretch;

/* One fault, and where it was heard. */
typedef struct {
    const Port *fault; /* Check's yes or no */
    const char *count; /* symbol of the port that counts it; NULL: it is not counted */
    Stretch *mark;
    size_t marks;
    size_t times; /* how often it was heard; more than marks where some grew together */
} Lane;

typedef struct {
    Stretch when;
    double before, after; /* dB, plain RMS */
} Bar;

typedef struct {
    double at, level, cut; /* s; dB of the highs in the take; dB, 0 or less */
    double held;           /* s: the longest that it was turned down by what counts */
    bool caught;           /* so many are as the table says, those that were turned down the longest */
} Ess;

typedef struct {
    double seconds; /* of the take */
    Lane lane[FACTS_LANES];
    uint32_t lanes;
    Bar *bar;
    size_t bars;
    Ess *ess;
    size_t esses;
    bool cut_alone;                  /* of these, those alone that were turned down: Chain shows no others */
    bool compressed;                 /* there is a reduction to draw: */
    double reduction[FACTS_COLUMNS]; /* dB, the most of each stretch of the take */
    double level[LOOK_SIDES]
                [FACTS_LEVELS]; /* share of the blocks of 400 ms that lie in each column, of those above it */
    double colour[LOOK_SIDES][BANK_BANDS]; /* dB, at equal loudness */
    uint32_t bands;                        /* of them; 0: silence */
    double like[BANK_BANDS];               /* the same of the vocal that the take was fitted to */
    uint32_t like_bands;                   /* 0: there is none */
} Facts;

/* index: of the take within the report. Followed by facts_free() in any case. */
bool facts_make(Facts *f, const Look *look, const Report *r, uint32_t index, Error *e);
void facts_free(Facts *f);

/* The stage of this name in the report; NULL: there is none, or it is switched off. */
const StageResult *facts_stage(const Report *r, const char *name, uint32_t *index);

/* The same; where there is none, Chain, which holds the five and shows the most of what they do. */
const StageResult *facts_either(const Report *r, const char *name, uint32_t *index);

#endif
