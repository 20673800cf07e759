/* What Check learns from a cell: it counts in its memory (check_memory.h) what its listeners found, and notes when each
 * fault was last heard. */
#ifndef LINCTUS_CHECK_LEARNING_H
#define LINCTUS_CHECK_LEARNING_H

#include "check.h"

/* Takes in what the last cell brought. Call it at each grid point while Check is on learn, and only then. */
void check_learning_cell(Check *c);

#endif
