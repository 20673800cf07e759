/* What to do next with a take, a few things, the source first; each with the command to type, if there is one. */
#ifndef LINCTUS_HARNESS_NEXT_H
#define LINCTUS_HARNESS_NEXT_H

#include "report.h"
#include "retype.h"

enum { NEXT_STEPS = 8 };

typedef struct {
    char what[512];
    char command[RETYPED]; /* "": none */
} NextStep;

typedef struct {
    NextStep step[NEXT_STEPS];
    uint32_t steps;
} Next;

/* options: of the run that the report is about. */
void next_make(Next *n, const Report *r, const Options *options);

void next_print(const Next *n, FILE *to);

#endif
