/* The page of a report: all takes of a run, one after the other, in one file that needs no other but, where they are
 * not inside it, the sounds of its players. */
#ifndef LINCTUS_HARNESS_PAGE_H
#define LINCTUS_HARNESS_PAGE_H

#include "draw.h"
#include "next.h"

/* One take's part. */
typedef struct {
    const Report *report;
    uint32_t index; /* of the take within the report */
    const Look *look;
    const char *audio[LOOK_SIDES]; /* names of the files beside the page; NULL: the handles in the look */
    const Next *next;
} PageTake;

/* Writes to a handle and closes it. table: what render printed, as text; name: the page's, for errors. */
bool page_write(int handle, const char *name, const PageTake *take, uint32_t takes, const char *table, Error *e);

#endif
