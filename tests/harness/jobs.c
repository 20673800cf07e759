#include "jobs.h"

#include <pthread.h>
#include <stdlib.h>
#include <unistd.h>

typedef struct {
    pthread_mutex_t lock;
    Job *job;
    void *context;
    Progress *progress;
    uint32_t n, next;
    bool *over;      /* one a piece: it is done, or failed */
    uint32_t failed; /* the first that did; n: none */
    Error error;     /* its error */
} Jobs;

/* Under the lock, as all that touches Jobs: whether there is another piece to begin, and which. */
static bool begin(Jobs *j, uint32_t *index)
{
    *index = j->next;
    if (j->next >= j->n || j->failed < j->n)
        return false;
    ++j->next;
    return true;
}

/* Is everything over that could still tell an earlier error? */
static bool all_over_before(const Jobs *j, uint32_t index)
{
    for (uint32_t i = 0; i < index; ++i)
        if (!j->over[i])
            return false;
    return true;
}

static void end(Jobs *j, uint32_t index, bool ok, const Error *e)
{
    j->over[index] = true;
    if (!ok && index < j->failed) {
        j->failed = index;
        j->error = *e;
    }
    if (j->failed < j->n && all_over_before(j, j->failed))
        progress_give_up(j->progress);
}

static void *work(void *jobs)
{
    Jobs *j = jobs;
    uint32_t index;
    pthread_mutex_lock(&j->lock);
    while (begin(j, &index)) {
        Error e = {0};
        pthread_mutex_unlock(&j->lock);
        const bool ok = j->job(j->context, index, &e);
        pthread_mutex_lock(&j->lock);
        end(j, index, ok, &e);
    }
    pthread_mutex_unlock(&j->lock);
    return NULL;
}

/* This thread works too, so the work is done even where no other can be had. */
static void work_together(Jobs *j, uint32_t threads)
{
    pthread_t thread[JOBS_MOST];
    uint32_t started = 0;
    while (started + 1 < threads && started + 1 < JOBS_MOST && !pthread_create(&thread[started], NULL, work, j))
        ++started;
    work(j);
    for (uint32_t t = 0; t < started; ++t)
        pthread_join(thread[t], NULL);
}

bool jobs_run(uint32_t n, uint32_t threads, Job *job, void *context, Progress *p, Error *e)
{
    Jobs j = {.lock = PTHREAD_MUTEX_INITIALIZER, .job = job, .context = context, .progress = p, .n = n, .failed = n};
    j.over = calloc((size_t)n + 1, sizeof *j.over);
    if (!j.over)
        return error_set(e, ERROR_INSIDE, "out of memory");
    work_together(&j, threads < n ? threads : n);
    if (j.failed < n)
        *e = j.error;
    free(j.over);
    return j.failed == n;
}

uint32_t jobs_cores(void)
{
    const long cores = sysconf(_SC_NPROCESSORS_ONLN);
    return cores < 1 ? 1 : cores < JOBS_MOST ? (uint32_t)cores : JOBS_MOST;
}
