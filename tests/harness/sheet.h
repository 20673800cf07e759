/* The text about a result that goes with it, for whoever gets the file: what it is, what was done to it, every setting,
 * and the command line that makes it again. */
#ifndef LINCTUS_HARNESS_SHEET_H
#define LINCTUS_HARNESS_SHEET_H

#include "report.h"

/* take: within the report. Its figures are written by the table's own functions. */
void sheet_print(const Report *r, uint32_t take, FILE *to);

/* Into a handle (newfile.h), which is closed. name: for errors. */
bool sheet_write(int handle, const char *name, const Report *r, uint32_t take, Error *e);

#endif
