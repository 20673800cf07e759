/* Pieces of work side by side, a thread each. */
#ifndef LINCTUS_HARNESS_JOBS_H
#define LINCTUS_HARNESS_JOBS_H

#include "progress.h"

enum { JOBS_MOST = 64 };

/* One piece. Pieces share nothing that one of them writes, but what says that it may be shared (host.h, progress.h). */
typedef bool Job(void *context, uint32_t index, Error *e);

/* Does pieces 0 to n - 1, begun in this order, at most `threads` at a time (1..JOBS_MOST). false: the error is that of
 * the first piece that fails, in their order and not in time: what one after the other would have told. None after it
 * is begun then; what is under way stops (progress.h) as soon as no piece before it can fail any more. */
bool jobs_run(uint32_t n, uint32_t threads, Job *job, void *context, Progress *p, Error *e);

/* How many the machine does at a time: 1..JOBS_MOST. */
uint32_t jobs_cores(void);

#endif
