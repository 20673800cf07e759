#include "measure.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#if defined __GLIBC__
#include <malloc.h>
#endif

#ifdef HAVE_CALLGRIND
#include <valgrind/callgrind.h>
#else
#define CALLGRIND_START_INSTRUMENTATION ((void)0)
#define CALLGRIND_STOP_INSTRUMENTATION  ((void)0)
#define CALLGRIND_ZERO_STATS            ((void)0)
#define CALLGRIND_DUMP_STATS_AT(label)  ((void)(label))
#endif

enum { RUNS = 3 };

static Work work, twin;

double cpu_seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void fail(const char *why)
{
    fprintf(stderr, "%s\n", why);
    exit(1);
}

/* Before silence comes the take. */
static void start(const Subject *s, Host *host, const Take *take, Case c)
{
    work_start(&work, s, host, take->rate, c.mode);
    if (c.mode == WORK_SILENCE)
        work_run(&work, take->sound, take->frames, WORK_BLOCK);
}

double time_of(const Subject *s, Host *host, const Take *take, Case c)
{
    double least = INFINITY;
    for (int run = 0; run < RUNS; ++run) {
        start(s, host, take, c);
        const double before = cpu_seconds();
        work_run(&work, c.mode == WORK_SILENCE ? NULL : take->sound, take->frames, c.block);
        least = fmin(least, cpu_seconds() - before);
        work_end(&work);
    }
    return 1e9 * least / take->frames;
}

/* ---- A race ---- */

enum { LAPS = 7, TURNS_MOST = 1024 };

/* Seconds; the turn's least so far. */
static void take_turn(Work *w, const float *sound, uint32_t frames, uint32_t block, double *least)
{
    const double before = cpu_seconds();
    work_run(w, sound, frames, block);
    const double took = cpu_seconds() - before;
    *least = *least > 0.0 ? fmin(*least, took) : took;
}

static void run_lap(const Subject *const s[2], Host *host, const Take *take, Case c, double least[][2])
{
    const uint32_t turn = (uint32_t)(take->rate / 2.0);
    work_start(&work, s[0], host, take->rate, c.mode);
    work_start(&twin, s[1], host, take->rate, c.mode);
    for (uint32_t k = 0; (k + 1) * turn <= take->frames && k < TURNS_MOST; ++k) {
        const float *sound = take->sound + (size_t)k * turn;
        const uint32_t last = turn % c.block ? turn % c.block : c.block;
        take_turn(&work, sound, turn, c.block, &least[k][0]);
        take_turn(&twin, sound, turn, c.block, &least[k][1]);
        if (c.mode == WORK_HOLD && !work_is_same(&work, &twin, last))
            fail("these two do not put out the same: no fair race");
    }
    work_end(&twin);
    work_end(&work);
}

void race_of(const Subject *const s[2], Host *host, const Take *take, Case c, double ns[2])
{
    double least[TURNS_MOST][2] = {{0.0}};
    uint32_t turns = 0;
    for (int lap = 0; lap < LAPS; ++lap)
        run_lap(s, host, take, c, least);
    ns[0] = ns[1] = 0.0;
    for (; turns < TURNS_MOST && least[turns][0] > 0.0; ++turns)
        for (int k = 0; k < 2; ++k)
            ns[k] += least[turns][k];
    for (int k = 0; k < 2; ++k)
        ns[k] *= 1e9 / (turns * floor(take->rate / 2.0));
}

/* ---- Instructions ---- */

void count_of(const Subject *s, Host *host, const Take *take, Case c, const char *label)
{
    const uint32_t first = (uint32_t)take->rate, frames = COUNT_SECONDS * first;
    if (take->frames < first + frames)
        return;
    start(s, host, take, c);
    work_run(&work, c.mode == WORK_SILENCE ? NULL : take->sound, first, c.block);
    CALLGRIND_START_INSTRUMENTATION;
    CALLGRIND_ZERO_STATS;
    work_run(&work, c.mode == WORK_SILENCE ? NULL : take->sound + first, frames, c.block);
    CALLGRIND_DUMP_STATS_AT(label);
    CALLGRIND_STOP_INSTRUMENTATION;
    work_end(&work);
}

/* ---- The costliest block ---- */

/* Small blocks: in large ones the cost evens out by itself. */
enum { SMALL = 64, REPLAYS = 9, FIRST_BLOCKS = 200 };

static int by_value(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* The least time each block took over some replays of the same samples: what else the machine does falls away. A twin
 * plays each block first: code and tables that are taken for the first time after long come from memory, which takes
 * some microseconds whatever the work. */
double costliest_block(const Subject *s, Host *host, const Take *take)
{
    const uint32_t blocks = take->frames / SMALL;
    double *least = calloc((size_t)blocks + 1, sizeof *least);
    if (!least || blocks <= 2 * FIRST_BLOCKS)
        fail("no memory");
    for (int replay = 0; replay < REPLAYS; ++replay) {
        work_start(&twin, s, host, take->rate, WORK_LEARN);
        work_start(&work, s, host, take->rate, WORK_LEARN);
        for (uint32_t b = 0; b < blocks; ++b) {
            work_run(&twin, take->sound + (size_t)b * SMALL, SMALL, SMALL);
            const double before = cpu_seconds();
            work_run(&work, take->sound + (size_t)b * SMALL, SMALL, SMALL);
            const double took = cpu_seconds() - before;
            least[b] = replay && least[b] < took ? least[b] : took;
        }
        work_end(&work);
        work_end(&twin);
    }
    qsort(least + FIRST_BLOCKS, blocks - FIRST_BLOCKS, sizeof *least, by_value);
    const double ratio = least[blocks - 1] / least[(blocks + FIRST_BLOCKS) / 2];
    free(least);
    return ratio;
}

/* ---- Memory ---- */

static double bytes_in_use(void)
{
#if defined __GLIBC__
    const struct mallinfo2 m = mallinfo2();
    return (double)m.uordblks + (double)m.hblkhd;
#else
    return 0.0;
#endif
}

static Instance *made(const Subject *s, Host *host, double rate)
{
    Error e;
    Instance *i = instance_new(host, s->plugin[0], rate, INSTANCE_PLAIN, &e);
    if (!i)
        fail("no memory");
    return i;
}

/* With one that is there already the library is loaded. */
Footprint footprint_of(const Subject *s, Host *host, double rate)
{
    Instance *there = made(s, host, rate);
    Footprint least = {.milliseconds = INFINITY};
    for (int run = 0; run < RUNS; ++run) {
        const double bytes = bytes_in_use(), before = cpu_seconds();
        Instance *i = made(s, host, rate);
        least.milliseconds = fmin(least.milliseconds, 1e3 * (cpu_seconds() - before));
        least.bytes = bytes_in_use() - bytes;
        instance_free(i);
    }
    instance_free(there);
    return least;
}
