/* `render --compare`: takes of one song, phrase by phrase. */
#ifndef LINCTUS_HARNESS_COMPARING_H
#define LINCTUS_HARNESS_COMPARING_H

#include "run.h"

#include <stdio.h>

/* Options are read and signals are caught. Prints the table, and writes the page where a report is asked for. A take
 * without a voice is left out (take->voiceless). */
bool comparing_run(Run *r, FILE *out, Error *e);

#endif
