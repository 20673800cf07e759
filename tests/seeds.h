/* Where the tests' chance comes from. LINCTUS_SEEDS=N in the environment adds N to every seed, of the singer and of
 * noise: takes that nobody has looked at while limits were settled. N is a whole number, 0 to 4294967295; anything else
 * ends the program, because a run that quietly took the usual seeds would prove nothing. */
#ifndef LINCTUS_SEEDS_H
#define LINCTUS_SEEDS_H

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static inline uint32_t seeds_added(void)
{
    const char *wish = getenv("LINCTUS_SEEDS");
    if (!wish)
        return 0;
    const size_t digits = strspn(wish, "0123456789");
    const unsigned long long n = strtoull(wish, NULL, 10);
    if (!digits || digits > 10 || wish[digits] || n > UINT32_MAX) {
        fprintf(stderr, "LINCTUS_SEEDS=%s: a whole number up to 4294967295 is wanted\n", wish);
        exit(2);
    }
    return (uint32_t)n;
}

/* The seed to begin with, in place of `usual`. */
static inline uint32_t seeded(uint32_t usual)
{
    return usual + seeds_added();
}

#endif
