/* When a fuzzer has done enough. */
#ifndef LINCTUS_FUZZ_UNTIL_H
#define LINCTUS_FUZZ_UNTIL_H

#include <stdlib.h>
#include <time.h>

static inline double until_cpu_seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* A figure from the environment. */
static inline double until_wish(const char *name, double otherwise)
{
    const char *text = getenv(name);
    return text && *text ? strtod(text, NULL) : otherwise;
}

#endif
