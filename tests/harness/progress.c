#include "progress.h"

#include <signal.h>
#include <stdatomic.h>
#include <stdio.h>
#include <unistd.h>

/* A handler has no other way to tell. */
static atomic_int stop_asked;

static void ask_to_stop(int number)
{
    (void)number;
    stop_asked = 1;
}

void progress_catch_signals(void)
{
    static const int ends[] = {SIGINT, SIGTERM, SIGHUP};
    struct sigaction stop = {.sa_handler = ask_to_stop}, ignore = {.sa_handler = SIG_IGN}, was;
    for (size_t i = 0; i < sizeof ends / sizeof *ends; ++i)
        if (!sigaction(ends[i], NULL, &was) && was.sa_handler != SIG_IGN)
            sigaction(ends[i], &stop, NULL);
    sigaction(SIGXFSZ, &ignore, NULL);
}

bool progress_stopped(Error *e)
{
    return stop_asked && !error_set(e, ERROR_STOPPED, "stopped; nothing was written");
}

void progress_start(Progress *p, double total)
{
    *p = (Progress){.lock = PTHREAD_MUTEX_INITIALIZER, .terminal = isatty(STDERR_FILENO), .total = total};
    clock_gettime(CLOCK_MONOTONIC, &p->started);
    p->last = p->started;
}

void progress_expect(Progress *p, double total)
{
    p->total = total;
}

static double seconds_since(const struct timespec *then)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)(now.tv_sec - then->tv_sec) + 1e-9 * (double)(now.tv_nsec - then->tv_nsec);
}

static void show(Progress *p, const char *doing, const char *what, const char *take)
{
    const double share = p->total > 0.0 && p->done < p->total ? p->done / p->total : 1.0;
    fprintf(stderr, "\r\033[K%3.0f %%  %s%s%s  %s", 100.0 * share, doing, *what ? ": " : "", what, take);
    fflush(stderr);
    p->shown = true;
    clock_gettime(CLOCK_MONOTONIC, &p->last);
}

void progress_give_up(Progress *p)
{
    pthread_mutex_lock(&p->lock);
    p->given_up = true;
    pthread_mutex_unlock(&p->lock);
}

bool progress_add(Progress *p, uint32_t n, const char *doing, const char *what, const char *take, Error *e)
{
    pthread_mutex_lock(&p->lock);
    p->done += (double)n;
    if (p->terminal && seconds_since(&p->started) > 1.0 && seconds_since(&p->last) > 0.2)
        show(p, doing, what, take);
    const bool given_up = p->given_up;
    pthread_mutex_unlock(&p->lock);
    return !progress_stopped(e) && (!given_up || error_set(e, ERROR_STOPPED, "stopped; another take failed"));
}

void progress_end(Progress *p)
{
    if (p->shown)
        fputs("\r\033[K", stderr);
    p->shown = false;
}
