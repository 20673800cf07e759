/* Background work: what would take too long for one cell is cut into steps, and every cell does as many as its budget
 * pays for.
 *
 *     for (work_grant(&w, BUDGET); work_next(&w);)
 *         work_did(&w, step(...));
 *
 * Budget and costs share a unit of the caller's choice: steps where all take about as long, else thousands of
 * instructions. If a step costs more than is left, later cells pay the rest: so the average rate is exact, and no cell
 * takes more than its budget and one step. Budget that a cell does not need is not saved up, so this holds after a rest
 * too. */
#ifndef LINCTUS_WORK_H
#define LINCTUS_WORK_H

#include <stdbool.h>

/* Zero it to begin. */
typedef struct {
    double due;  /* granted and not spent yet; below 0: spent ahead of later grants */
    double cell; /* spent since the last grant */
    double most; /* cost of the costliest cell so far, which tests hold to a limit */
} Work;

/* Call when a cell begins, or whatever else the budget (above 0) is for. */
void work_grant(Work *w, double budget);

/* true: the budget allows another step now, if there is work. */
bool work_next(const Work *w);

/* Call after a step. cost: what it took, above 0. */
void work_did(Work *w, double cost);

#endif
