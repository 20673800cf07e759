/* One run of the program over its takes: what is planned, what was heard, what came of it. */
#ifndef LINCTUS_HARNESS_RUN_H
#define LINCTUS_HARNESS_RUN_H

#include "backing.h"
#include "leftovers.h"
#include "like.h"
#include "look.h"
#include "outputs.h"
#include "report.h"

/* Seconds of it after a take: Check's read-outs of a note's end, a rest and a pop come up to half a second late. */
#define RUN_CHECK_SILENCE 0.6

typedef struct {
    Options options;
    Plan plan;
    Take *take;           /* one an IN */
    Outputs outputs;      /* the files to write */
    Leftovers left;       /* what lay in their folder */
    const char *folder;   /* where working copies lie */
    PresetBundle preset;  /* what --save-preset writes */
    Lesson *check;        /* by group: what Check heard in the takes as they came */
    Lesson all;           /* and in all of them together, where it is to tell whether one voice will do for them */
    bool one_voice;       /* it does: `all` tells it */
    bool voices_apart;    /* it does not: they differ by more than neighbours, and each take has its own */
    Lesson *tone, *esses; /* for advice alone, what Tone and Esses found in them */
    StageResult *result;  /* by group, then by stage */
    Backing backing;      /* --backing: what follows from the first group, the lead; known once that is done */
    Look *look;           /* one a take, for a report; NULL: none is wanted */
    Like like;            /* --like */
    Portrait *portrait;   /* gets what comes out of the chain; NULL: nobody wants to know */
    bool tries;           /* the chain is run for that alone, and no file is written */
    Progress progress;
} Run;

/* ---- hear.c: before anything is done to the takes ---- */

/* Check listens to every take, one pass over each, and a working copy of it is left. Notes which have no voice. */
bool run_hear(Run *r, Error *e);

/* The same for advice: Tone and Esses listen in that pass too, and no copy is made. */
bool run_hear_for_advice(Run *r, Error *e);

/* The same for a comparison: Check alone, each take by itself. */
bool run_hear_to_compare(Run *r, Error *e);

/* Passes over each take that each of them makes. */
uint32_t run_hear_passes(const Run *r);

/* Label of the presets that a group gets: of the voice that was named; else of the range that Check heard, in all takes
 * together where that can be one singer's, else in the group. NULL: none. */
const char *run_voice(const Run *r, uint32_t group);

/* ---- chain.c: the stages ---- */

/* Passes over each take that run_chain() makes. */
uint32_t run_chain_passes(const Run *r);

/* All stages over all takes, groups side by side, into complete files that have no name yet. Stages that do not learn
 * run in one pass with the one before them, and a stage that learns listens while the one before it mixes. */
bool run_chain(Run *r, Error *e);

/* What run_chain() found is forgotten, and it can be run once more. */
void run_forget_results(Run *r);

/* The results of a group, one a stage. */
StageResult *run_results(const Run *r, uint32_t group);

/* ---- like.c: for --like; without it these do nothing more ---- */

/* The other vocal is heard. Fails where there is too little voice in it. */
bool run_hear_like(Run *r, Error *e);

/* After the repairs are known: runs the chain for a try, LIKE_TRIES times or until it is near, and settles what it is
 * to be set to. */
bool run_like(Run *r, Error *e);

/* run_chain(), and what came of it is compared. */
bool run_chain_like(Run *r, Error *e);

/* ---- look.c: for a report; without one these do nothing ---- */

/* Before run_chain(). */
bool run_start_looks(Run *r, Error *e);

/* After it: one more pass over each take as it came, and one over its mix. */
bool run_look(Run *r, Error *e);

/* ---- matched.c: for --matched; without it this does nothing ---- */

/* After run_chain(): one more pass over each take as it came, into a file as long as its mix, of as many channels and
 * at its loudness. Where that would put its true peak over -1 dBTP, or what --peak says, the take stays under the mix:
 * the mix is what was asked for, and is not turned down for a comparison. */
bool run_matched(Run *r, Error *e);

/* ---- run.c ---- */

/* The first take of a group; plan_group() of them stand behind each other. */
Take *run_takes(const Run *r, uint32_t group);

/* How many groups of takes that share what is learned there are. */
uint32_t run_groups(const Run *r);

/* Frees all of it and takes away what was not kept; safe on a zeroed struct. */
void run_free(Run *r);

#endif
