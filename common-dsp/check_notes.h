/* The notes that Check has heard: the lowest and the highest, the voice range nearest to them, and their tuning. */
#ifndef LINCTUS_CHECK_NOTES_H
#define LINCTUS_CHECK_NOTES_H

#include "check_figures.h"

/* Sets lowest, highest, their Hz, and the range. */
void check_notes_find(const CheckMemory *memory, CheckReport *report);

/* Sets tuning, out_of_tune and far_out. Call it after check_notes_find(). */
void check_notes_find_tuning(const CheckMemory *memory, CheckReport *report);

#endif
