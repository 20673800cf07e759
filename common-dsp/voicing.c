#include "voicing.h"

/* Chosen, not searched. */
#define LEAST_RATE 4250.0 /* signs a second, as long as the sound's rate allows */
#define LOWEST_HZ  70.0   /* Hz, longest period compared: 121 signs at most */
#define HIGHEST_HZ 1100.0 /* Hz, shortest period compared */

enum { WORD = 64, SIGNS = VOICING_WINDOW * WORD, LEAST_SIGNS = 6 };

uint32_t voicing_every(double rate)
{
    uint32_t every = 1;
    while (rate / (2 * every) >= LEAST_RATE)
        every *= 2;
    return every;
}

static uint32_t ones(uint64_t x)
{
    x -= x >> 1 & 0x5555555555555555u;
    x = (x & 0x3333333333333333u) + (x >> 2 & 0x3333333333333333u);
    x = (x + (x >> 4)) & 0x0f0f0f0f0f0f0f0fu;
    return (uint32_t)(x * 0x0101010101010101u >> 56);
}

/* How many signs of the window differ from those `lag` signs earlier. */
static uint32_t differ(const Voicing *v, uint32_t lag)
{
    const uint32_t word = lag / WORD, bit = lag % WORD;
    uint32_t sum = 0;
    for (uint32_t i = 0; i < VOICING_WINDOW; ++i) {
        const uint64_t low = v->sign[word + i] >> bit;
        sum += ones(v->sign[i] ^ (bit ? low | v->sign[word + i + 1] << (WORD - bit) : low));
    }
    return sum;
}

/* true: one of the words is nearly all of one sign, as in silence, which would agree with itself. */
static bool constant(const Voicing *v)
{
    bool any = false;
    for (uint32_t i = 0; i < VOICING_WORDS; ++i)
        any |= ones(v->sign[i]) < LEAST_SIGNS || ones(~v->sign[i]) < LEAST_SIGNS;
    return any;
}

double voicing_agreement(const Voicing *v, double rate)
{
    const uint32_t shortest = (uint32_t)(rate / HIGHEST_HZ), longest = (uint32_t)(rate / LOWEST_HZ);
    uint32_t least = SIGNS;
    if (constant(v))
        return 0.0;
    for (uint32_t lag = shortest; lag <= longest; ++lag) {
        const uint32_t now = differ(v, lag);
        least = now < least ? now : least;
    }
    return 1.0 - 2.0 * least / SIGNS;
}
