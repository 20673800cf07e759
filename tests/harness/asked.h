/* Takes and a result as they were typed: can it be meant so? Where not, the error says what to type. */
#ifndef LINCTUS_HARNESS_ASKED_H
#define LINCTUS_HARNESS_ASKED_H

#include "options.h"

/* Is there an OUT that can be written, are the takes there (source.h), each of them once, and is none of them OUT? */
bool asked_check(const Options *options, Error *e);

/* The takes alone. */
bool asked_check_takes(const Options *options, Error *e);

/* Do the results go into a folder? Where there is an OUT. */
bool asked_folder(const Options *options);

/* The take that a path names, under whatever name; NULL: none. */
const char *asked_take_at(const Options *options, const char *path);

/* Says that a result would be written over this take, and returns false. */
bool asked_over_take(const Options *options, const char *path, Error *e);

#endif
