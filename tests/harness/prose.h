/* What the table says of each plug-in of the suite: words alone, apart from the code that prints them. */
#ifndef LINCTUS_HARNESS_PROSE_H
#define LINCTUS_HARNESS_PROSE_H

#include <stddef.h>

typedef enum { HEARD, SET, DID } ProseKind;

/* One row of the table. It is printed where all of its conditions hold (fill_holds), and where the plug-in has all the
 * ports that the text names (fill_in). */
typedef struct {
    const char *plugin; /* its stem */
    ProseKind kind;
    const char *when; /* conditions with blanks between; "": always */
    const char *text; /* "!" before it: a fault, and marked as one */
} Prose;

extern const Prose prose[]; /* in the order in which they are printed */
extern const size_t prose_rows;

#endif
