/* The command line that a person should have typed. */
#ifndef LINCTUS_HARNESS_RETYPE_H
#define LINCTUS_HARNESS_RETYPE_H

#include "options.h"

enum { RETYPED = 640 /* characters: with what went wrong in front of it, it still fits an Error */ };

/* What is to be different. */
typedef struct {
    const char *out;     /* another -o; NULL: the same */
    const char *without; /* a plain argument to leave out: the very pointer from argv; NULL: none */
    const char *besides; /* and another one */
    bool replace;        /* with --replace */
    const char *report;  /* another --report; NULL: the same */
    const char *set;     /* with --set and this; NULL: no more than there are */
    bool repair;         /* with --repair auto */
    const char *stages;  /* with --stages and these, where there are none; NULL: as it is */
    const char *preset;  /* with --save-preset and this name; NULL: as it is */
} Change;

/* The same command line with the change, quoted for a shell: "render -o take-mix.wav take.wav". What is new stands in
 * front, where no "--" comes before it. Too long a line becomes words: "the same again with --replace". */
void retype(char text[RETYPED], const Options *o, Change change);

/* The same line however long it is, to be freed. NULL: a character in it cannot be typed, or out of memory. */
char *retype_whole(const Options *o, Change change);

/* The line as it was typed, however long, without --replace and without the names of folders in it, but for those that
 * tell takes of one name apart; the same as to NULL and freeing. */
char *retype_bare(const Options *o);

/* One word, quoted where a shell needs it. */
void retype_word(const char *word, FILE *to);

/* "render --advise take.wav", of the same takes. */
void retype_advise(char text[RETYPED], const Options *o);

/* A name nobody has yet: "take-mix.wav", else "take-mix-2.wav" and so on. `stem` with folders, `ending` with its dot.
 */
void free_name(char *name, size_t size, const char *stem, const char *ending);

#endif
