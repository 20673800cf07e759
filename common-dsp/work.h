/* Background work: what would take too long for one cell is cut in steps, and every cell does as many as its budget
 * pays for.
 *
 *     for (work_grant(&w, BUDGET); work_next(&w);)
 *         work_did(&w, step(...));
 *
 * Budget and costs are in the same unit, whichever suits the caller: steps where all take about as long, else thousands
 * of instructions. What a step takes over what was left of the budget the cells after it pay, so the rate is kept
 * exactly, and no cell takes more than its budget and one step. What a cell does not need is not saved up: after a rest
 * too no cell does more than that. */
#ifndef LINCTUS_WORK_H
#define LINCTUS_WORK_H

#include <stdbool.h>

/* Zero it to begin. */
typedef struct {
    double due;  /* what is granted and not spent; below 0: what was spent and not granted yet */
    double cell; /* spent since the last grant */
    double most; /* the costliest cell so far: what tests hold to a limit */
} Work;

/* A cell begins, or whatever the budget (over 0) is for. */
void work_grant(Work *w, double budget);

/* Is there a step to be done now, if there is work? */
bool work_next(const Work *w);

/* It was done, and took so much (over 0). */
void work_did(Work *w, double cost);

#endif
