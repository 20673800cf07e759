/* What a long run is at, on a terminal; and whether someone asked it to stop. */
#ifndef LINCTUS_HARNESS_PROGRESS_H
#define LINCTUS_HARNESS_PROGRESS_H

#include "error.h"

#include <pthread.h>
#include <stdint.h>
#include <time.h>

/* Several threads may add to it at a time. */
typedef struct {
    pthread_mutex_t lock;
    bool given_up;
    bool terminal, shown;
    double total, done; /* frames, over all passes */
    struct timespec started, last;
} Progress;

/* From here on SIGINT, SIGTERM and SIGHUP do not end the program, but the next progress_add() or progress_stopped()
 * tells. One that is ignored when the program starts, as nohup ignores SIGHUP, stays ignored. A write past a limit of
 * size becomes an error instead of a signal. */
void progress_catch_signals(void);

/* Has one of them come? Then the error says so. */
bool progress_stopped(Error *e);

/* total: frames of all passes together. */
void progress_start(Progress *p, double total);

/* From here on progress_add() says that it was asked to stop: something failed that the whole run needs. */
void progress_give_up(Progress *p);

/* The total has changed. No other thread works. */
void progress_expect(Progress *p, double total);

/* n frames more are done. Writes a line to stderr where that is a terminal, from the second second on, five times a
 * second. `doing` and `what` are words: "listening", "compressor, lead.wav". false: asked to stop. */
bool progress_add(Progress *p, uint32_t n, const char *doing, const char *what, const char *take, Error *e);

/* Takes the line away again. No other thread works. */
void progress_end(Progress *p);

#endif
