/* The page of a comparison: takes under each other with their phrases, and the table. */
#ifndef LINCTUS_HARNESS_COMPARE_PAGE_H
#define LINCTUS_HARNESS_COMPARE_PAGE_H

#include "compare.h"

/* Writes to a handle and closes it. c: without takes there was nothing to compare. table: what render printed, as text;
 * name: the page's, for errors. */
bool compare_page_write(int handle, const char *name, const Compare *c, const char *table, Error *e);

#endif
