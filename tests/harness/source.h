/* What a take is read from: a plain file, or a pipe that is copied once into a file without a name. */
#ifndef LINCTUS_HARNESS_SOURCE_H
#define LINCTUS_HARNESS_SOURCE_H

#include "error.h"

/* Seconds that a pipe may have no writer. Once it has one, its end is waited for. */
#define SOURCE_PATIENCE 5.0

/* Is it there, and a plain file or a pipe? Nothing is opened: a device would notice, a pipe would wait. */
bool source_check(const char *path, Error *e);

bool source_is_pipe(const char *path);

/* All that comes out of a pipe, as a handle to a file without a name in a folder; its position is the start. Negative:
 * see the error. A signal that asks the program to stop ends the waiting (progress.h). */
int source_copy_pipe(const char *path, const char *folder, Error *e);

#endif
