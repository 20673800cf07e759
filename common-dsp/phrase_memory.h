/* What Phrase has learned: how loud this voice's phrases are (phrase_level.h), as a tally of their levels while a voice
 * sounds, and, to keep the loudness of the whole (even_loudness.h), blocks of 400 ms by their K-weighted level, each
 * with its energy by the slow level. From these and the controls alone follow the gains. */
#ifndef LINCTUS_PHRASE_MEMORY_H
#define LINCTUS_PHRASE_MEMORY_H

#include "even_loudness.h"
#include "learned.h"
#include "tally.h"

enum {
    PHRASE_ENOUGH = 200,     /* frames of voice: with fewer there is no figure */
    PHRASE_EVEN_ENOUGH = 20, /* blocks */

    PHRASE_OVERS = 12,     /* columns of a row: by how much the slow level is more than the row's middle, every */
    PHRASE_OVER_LOW = -18, /* EVEN_STEP dB from here */
    PHRASE_UNITS = 1024,   /* of energy: a block in the middle of its row */
    PHRASE_HOPS = 4,       /* of 100 ms in a block; */
    PHRASE_HOP = 10,       /* frames in one */
};

/* A frame of 10 ms. */
typedef struct {
    double level, slow; /* dB, of phrase_level.h; level UNITS_DB_FLOOR: no voice sounded */
    double energy;      /* mean square after K weighting, summed over the channels */
    bool voiced;        /* as listening.h has found since */
} PhraseFrame;

typedef struct {
    Tally levels; /* of phrases, one for each voiced frame */
    uint32_t blocks[EVEN_FINE];
    uint32_t energy[EVEN_ROWS][PHRASE_OVERS];
    double kept_usual, kept_makeup; /* dB: from before the last fresh start; UNITS_DB_FLOOR: none */
} PhraseMemory;

/* The blocks under way; zero it to reset. */
typedef struct {
    uint32_t frames, hops;
    double energy[PHRASE_HOPS], slow[PHRASE_HOPS]; /* sums over the frames of a hop; of energy times level */
} PhraseHearing;

/* How phrases are to be evened. */
typedef struct {
    double usual;              /* dB, the level that needs nothing */
    double within;             /* dB, 0 or more: so far apart they may stay */
    double most_up, most_down; /* dB, 0 or more */
} PhraseEvening;

/* How it is stored. */
extern const LearnedSchema phrase_schema;

/* dB, for a slow level: nine tenths of how far it lies outside, since what one phrase is moved too far the next begins
 * with; exactly 0 where it lies within. */
double phrase_evening(const PhraseEvening *e, double slow);

/* The next frame. true: something was learned. */
bool phrase_memory_hear(PhraseMemory *m, PhraseHearing *h, const PhraseFrame *frame);

/* The middle of all levels, dB in steps of 1/256; UNITS_DB_FLOOR: not enough was heard. Looks at every bin. */
double phrase_memory_usual(const PhraseMemory *m);

/* dB that keep the loudness of what went in; what was kept while too little was heard; 0 where nothing
 * is evened. */
double phrase_memory_makeup(const PhraseMemory *m, const PhraseEvening *e);

/* Empty, but that the usual level and this makeup are kept until enough is heard. */
void phrase_memory_start_afresh(PhraseMemory *m, double makeup);

#endif
