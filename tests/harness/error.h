/* What went wrong, in one line a person can act on, and the exit status that goes with it. */
#ifndef LINCTUS_HARNESS_ERROR_H
#define LINCTUS_HARNESS_ERROR_H

#include <stdbool.h>

/* Each is an exit status of `render`. */
typedef enum {
    ERROR_NONE = 0,
    ERROR_INSIDE = 1,   /* out of memory, or a plug-in does not do what its description says */
    ERROR_USAGE = 2,    /* the command line */
    ERROR_FILE = 3,     /* no such file, not a plain one, or it cannot be opened */
    ERROR_AUDIO = 4,    /* not audio, or audio of a kind the plug-ins do not take */
    ERROR_EMPTY = 5,    /* a file without a single sample of audio */
    ERROR_VOICE = 6,    /* no such voice */
    ERROR_PLUGIN = 7,   /* no such plug-in */
    ERROR_SYMBOL = 8,   /* no such control */
    ERROR_VALUE = 9,    /* a value the control does not take */
    ERROR_WRITE = 10,   /* OUT or the table cannot be written */
    ERROR_BUNDLE = 11,  /* no bundle to work with */
    ERROR_STOPPED = 12, /* stopped by a signal */
    ERROR_NO_VOICE = 13 /* all was done, but no voice was heard in a take */
} ErrorStatus;

typedef struct {
    ErrorStatus status;
    char text[1024];
} Error;

/* Fills in the error and returns false, so that a failing function ends with `return error_set(...)`. The text is cut
 * where it is too long, and its control characters become spaces: it stays one line. */
bool error_set(Error *e, ErrorStatus status, const char *format, ...) __attribute__((format(printf, 3, 4)));

#endif
