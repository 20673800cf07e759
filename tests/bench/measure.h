/* Time, instructions and memory. */
#ifndef LINCTUS_BENCH_MEASURE_H
#define LINCTUS_BENCH_MEASURE_H

#include "work.h"

/* Seconds of this thread's CPU time. */
double cpu_seconds(void);

/* What is measured: a subject in a mode, with a rate's take. */
typedef struct {
    WorkMode mode;
    uint32_t block;
} Case;

typedef struct {
    double rate;
    const float *sound;
    uint32_t frames;
} Take;

/* ns a frame, the least of some runs. */
double time_of(const Subject *s, Host *host, const Take *take, Case c);

/* Two that put out the same (on hold, else the race is called off), in turns of half a second of the take, so that what
 * else the machine does falls on both alike: ns a frame of each, the least of some runs in every turn. */
void race_of(const Subject *const s[2], Host *host, const Take *take, Case c, double ns[2]);

/* Under callgrind: dumps the instructions of COUNT_SECONDS of the take, past its first, under this label. Elsewhere
 * nothing is counted. */
enum { COUNT_SECONDS = 2 };
void count_of(const Subject *s, Host *host, const Take *take, Case c, const char *label);

/* How many times the usual block of 64 the costliest costs, while everything that can listen does. */
double costliest_block(const Subject *s, Host *host, const Take *take);

/* Bytes that an instance of the first stage takes, 0: not known here; and milliseconds until it is made. */
typedef struct {
    double bytes, milliseconds;
} Footprint;

Footprint footprint_of(const Subject *s, Host *host, double rate);

#endif
