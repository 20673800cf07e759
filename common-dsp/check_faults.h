/* Which figures of a report are faults, and the verdict: the fault that lies most steps past its limit. Limits and
 * steps are common practice (ours), in one table in check_faults.c. */
#ifndef LINCTUS_CHECK_FAULTS_H
#define LINCTUS_CHECK_FAULTS_H

#include "check_figures.h"

/* The limit past which there is a fault, in the unit of its figure (the table in check_faults.c). */
double check_faults_limit(CheckFault fault);

/* Sets fault, last and verdict of a report whose other figures have been worked out from `memory`. With fewer than
 * CHECK_ENOUGH blocks of voice there is no fault. */
void check_faults_find(const CheckMemory *memory, CheckReport *report);

#endif
