/* A file that gets its name only when it is complete, and that never takes the place of another by surprise.
 *
 *     NewFile f;
 *     newfile_look(&f, "mix.wav", &e);       nothing is written yet; f.there: a file of that name is there
 *     int handle = newfile_open(&f, &e);     write to it: a hidden file beside the target
 *     newfile_claim(&f, &e);                 fails where someone else took the name meanwhile
 *     newfile_keep(&f, &e);                  the complete file appears under its name, or replaces the old one, at once
 *     newfile_drop(&f);                      always last; takes away what was not kept */
#ifndef LINCTUS_HARNESS_NEWFILE_H
#define LINCTUS_HARNESS_NEWFILE_H

#include "error.h"

#include <sys/types.h>

/* What a file is called until it is kept: a letter or digit in the place of each X. */
#define NEWFILE_HIDDEN ".render-XXXXXX"
enum { NEWFILE_RANDOM = 6 };

typedef struct {
    char *name;      /* as it was asked for */
    char *target;    /* what is written: symbolic links followed, from the root */
    char *temporary; /* NULL: nothing is written yet, or it was kept */
    bool there;      /* the target is there: keeping replaces it */
    bool claimed;    /* its name was taken, by an empty file */
    mode_t mode;     /* of the file that is there, else of a new one */
    uid_t owner;
    gid_t group;
} NewFile;

/* The path that a name stands for, from the root: symbolic links are followed, the last one too where what it names is
 * not there. To be freed; NULL: errno tells (its folder is not there, links in a circle, it names a folder). */
char *path_target(const char *name);

/* Does either name the same file, however it is written? Both have to be there. */
bool same_file(const char *a, const char *b);

bool is_folder(const char *path);

/* The permissions a new file or folder gets: `all` (0666, 0777) less what umask takes. */
mode_t usual_mode(mode_t all);

/* Fails where the target is there and is no plain file or write-protected, and where its folder is not there or cannot
 * be written to. Followed by newfile_drop() in any case. */
bool newfile_look(NewFile *f, const char *name, Error *e);

/* Whoever gets the handle closes it. Negative: see the error. */
int newfile_open(NewFile *f, Error *e);

/* Several files that belong together are all claimed before the first is kept. */
bool newfile_claim(NewFile *f, Error *e);
bool newfile_keep(NewFile *f, Error *e);

/* Safe on a zeroed struct, and twice. */
void newfile_drop(NewFile *f);

#endif
