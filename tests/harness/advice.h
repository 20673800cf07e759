/* What to do about what Check heard in a take: at the source first, then with the plug-ins. */
#ifndef LINCTUS_HARNESS_ADVICE_H
#define LINCTUS_HARNESS_ADVICE_H

#include "stage.h"

#include <stdio.h>

/* The worst fault first, as the verdict has it. check: Check's read-outs at the end of the take; without a plug-in
 * nothing is printed. */
void advice_print(const Readings *check, FILE *to);

#endif
