/* What every page has: its head, its style, and at its end the table that render printed. */
#ifndef LINCTUS_HARNESS_PAGE_FRAME_H
#define LINCTUS_HARNESS_PAGE_FRAME_H

#include "error.h"

#include <stdio.h>

/* Begins a page on a handle, which the FILE owns from here on. more: added to the title as it is. NULL: see the error;
 * the handle is closed. */
FILE *page_begin(int handle, const char *title, const char *more, Error *e);

/* Ends and closes it. name: the page's, for errors. false: it could not be written, or `ok` is false already and the
 * error says why. */
bool page_end(FILE *to, const char *name, const char *table, bool ok, Error *e);

/* Text that stays text, between two pieces of HTML. */
void page_put(FILE *to, const char *before, const char *text, const char *after);

#endif
