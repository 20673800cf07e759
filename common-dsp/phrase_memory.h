/* What Phrase has learned: a tally of the levels of this voice's phrases (phrase_level.h), one count for each voiced
 * frame; and, to keep the loudness of the whole (even_loudness.h), blocks of 400 ms by K-weighted level, with their
 * energy by the slow level. The gains follow from these and the controls alone. */
#ifndef LINCTUS_PHRASE_MEMORY_H
#define LINCTUS_PHRASE_MEMORY_H

#include "even_loudness.h"
#include "learned.h"
#include "tally.h"

/* Chosen, not searched; hops and blocks are BS.1770's. */
enum {
    PHRASE_ENOUGH = 200,     /* voiced frames, at least, for a usual level */
    PHRASE_EVEN_ENOUGH = 20, /* blocks, at least, for a makeup */

    PHRASE_OVERS = 12,     /* columns of a row, EVEN_STEP dB apart: slow level minus the level of the row's middle */
    PHRASE_OVER_LOW = -18, /* dB, the first column */
    PHRASE_UNITS = 1024,   /* units of energy in a block at the middle of its row */
    PHRASE_HOPS = 4,       /* hops of 100 ms in a block */
    PHRASE_HOP = 10,       /* frames in a hop */
};

/* A frame of 10 ms. */
typedef struct {
    double level, slow; /* dB, from phrase_level.h; level UNITS_DB_FLOOR: no voice sounded */
    double energy;      /* mean square after K weighting, summed over the channels */
    bool voiced;        /* has a pitch, as listening.h found later */
} PhraseFrame;

typedef struct {
    Tally levels;                             /* levels of phrases, one count for each voiced frame */
    uint32_t blocks[EVEN_FINE];               /* blocks by K-weighted level */
    uint32_t energy[EVEN_ROWS][PHRASE_OVERS]; /* units of energy */
    double kept_usual, kept_makeup;           /* dB, from before the last fresh start; UNITS_DB_FLOOR: none */
} PhraseMemory;

/* The current block; zero it to reset. */
typedef struct {
    uint32_t frames, hops;
    double energy[PHRASE_HOPS], slow[PHRASE_HOPS]; /* sums over a hop's frames: of energy; of energy times slow level */
} PhraseHearing;

/* How phrases are to be evened. */
typedef struct {
    double usual;              /* dB, the level phrases are moved towards */
    double within;             /* dB, 0 or more: range of levels in which phrases are left alone */
    double most_up, most_down; /* dB, 0 or more: most that a phrase is raised or lowered */
} PhraseEvening;

/* How it is stored. */
extern const LearnedSchema phrase_schema;

/* The gain for a slow level, dB: nine tenths of the distance from the range `within`, as the next phrase begins at the
 * gain of this one; exactly 0 inside the range. */
double phrase_evening(const PhraseEvening *e, double slow);

/* Takes in the next frame. true: something was learned. */
bool phrase_memory_hear(PhraseMemory *m, PhraseHearing *h, const PhraseFrame *frame);

/* The median of all levels, dB in steps of 1/256, or kept_usual while too few were heard; UNITS_DB_FLOOR: none. Reads
 * every bin. */
double phrase_memory_usual(const PhraseMemory *m);

/* The makeup that keeps the loudness of the input, dB; kept_makeup while too little was heard; 0 where nothing is
 * evened. */
double phrase_memory_makeup(const PhraseMemory *m, const PhraseEvening *e);

/* Empties the memory, but keeps its usual level and this makeup (dB) until enough is heard. */
void phrase_memory_start_afresh(PhraseMemory *m, double makeup);

#endif
