/* What of a report is a fault, and the verdict: the fault furthest past its limit, counted in that fault's steps.
 * Limits and steps are common practice (ours), in one table in check_faults.c. */
#ifndef LINCTUS_CHECK_FAULTS_H
#define LINCTUS_CHECK_FAULTS_H

#include "check_figures.h"

/* Where a fault begins, in the unit of its figure (the table in check_faults.c). */
double check_faults_limit(CheckFault fault);

/* Sets fault, last and verdict of a report whose other figures are those of the memory. Under CHECK_ENOUGH blocks of
 * voice there is no fault. */
void check_faults_find(const CheckMemory *memory, CheckReport *report);

#endif
