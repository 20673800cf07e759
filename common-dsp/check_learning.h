/* What Check learns of a cell: counts in its memory (check_memory.h) what its listeners found, and when each fault was
 * heard last. */
#ifndef LINCTUS_CHECK_LEARNING_H
#define LINCTUS_CHECK_LEARNING_H

#include "check.h"

/* Takes in what the last cell brought. Call at each grid point, only while it is on learn. */
void check_learning_cell(Check *c);

#endif
