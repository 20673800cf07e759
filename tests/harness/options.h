/* The command line of `render`. */
#ifndef LINCTUS_HARNESS_OPTIONS_H
#define LINCTUS_HARNESS_OPTIONS_H

#include "deliver.h"
#include "stage.h"

#include <stdio.h>

/* What an argument is. */
enum { ROLE_OPTION, ROLE_TAKE, ROLE_OUT, ROLE_REPLACE, ROLE_REPORT };

typedef struct {
    bool help, version, list, advise, compare;
    bool together, apart;
    bool backing;        /* the first take is a lead, and the others stand under it */
    SoundBits bits;      /* of the files to write */
    double rate;         /* Hz of them; 0: each take's own */
    const char *pattern; /* of their names (pattern.h); NULL: those of the takes */
    bool sheet;          /* a text about each goes beside it */
    Delivery delivery;   /* their loudness and peak */
    bool matched;        /* the take at the mix's loudness goes beside it */
    bool replace;        /* files that are there may be replaced */
    const char *bundle;  /* NULL: the one beside the program */
    const char *voice;   /* "none": none; NULL: the one that is heard */
    const char *preset;  /* name of the preset bundle to write; NULL: none */
    const char *report;  /* the page to write; NULL: none */
    bool report_audio;   /* what its players play goes into it */
    uint32_t jobs;       /* takes at a time, 1 or more */
    bool install;        /* that goes into ~/.lv2 */
    const char *from;    /* name of a saved preset to begin with; NULL: none */
    Setting *set;
    uint32_t sets;
    char (*stage)[64]; /* names, in the order of the chain, repairs first */
    uint32_t stages;
    bool stages_asked;  /* by --stages */
    bool stages_saved;  /* those of the saved preset, its repairs too where none were named */
    uint32_t put;       /* so many of them are repairs that --repair put there: the first */
    bool repair_heard;  /* --repair auto: those that Check asks for are put first once it has listened */
    bool repair_none;   /* no repair is wanted, and none is offered */
    char (*repair)[64]; /* --repair LIST: names, as they were given; */
    uint32_t repairs;   /* 0: no list */
    const char **in;    /* the takes; behind them `like` */
    uint32_t ins;
    const char *like; /* the vocal to be like; NULL: none */
    uint32_t fitted;  /* settings at the end of `set` that --like has found */
    const char *out;  /* -o; NULL: not given */
    int argc;
    char **argv;
    char *role; /* of each argument */
} Options;

/* Texts point into argv. Whether there is an OUT where there has to be one is not looked at: see outputs.h. Always
 * followed by options_free(). */
bool options_read(Options *o, int argc, char **argv, Error *e);
void options_free(Options *o); /* safe on a zeroed struct, and twice */

/* Hz of the result of a take of this rate. */
double options_rate(const Options *o, double take);

/* Is it among the stages? Letter case does not matter. */
bool options_has_stage(const Options *o, const char *plugin);

/* Puts a repair among the stages: in front of number `at`. */
void options_put_stage(Options *o, uint32_t at, const char *plugin);

/* What --version prints. */
void options_version(FILE *to);

/* What --help prints. */
void options_help(FILE *to);

#endif
