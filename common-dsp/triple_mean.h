/* Three running means of equal length in series, over whole numbers: a step comes out as a smooth curve without kink or
 * sudden bend, and ends exactly on the new value. The output never rises or falls faster than the input, and never
 * leaves its range. In integers nothing drifts: at rest the output is the input, to the bit. */
#ifndef LINCTUS_TRIPLE_MEAN_H
#define LINCTUS_TRIPLE_MEAN_H

#include <stdbool.h>
#include <stdint.h>

enum { TRIPLE_MEAN_LONGEST = 1280 }; /* samples in a mean, at most: its cube times 2^30 fits in 63 bits */

typedef struct {
    int64_t once, twice; /* running sum of the inputs, and of `once` */
    int32_t in;
} TripleMeanStep;

typedef struct {
    TripleMeanStep *step;
    uint32_t length, at; /* samples in each mean; the place of the oldest in `step` */
    int64_t once, twice, sum;
} TripleMean;

/* length: samples in each mean, 1..TRIPLE_MEAN_LONGEST; a step takes 3 length - 2 samples to arrive. Starts at rest at
 * 0. Allocates; false: no memory. */
bool triple_mean_init(TripleMean *m, uint32_t length);

/* Safe on a zeroed struct. */
void triple_mean_done(TripleMean *m);

/* As if it had been fed this value for ever. value: -2^30..2^30. */
void triple_mean_rest(TripleMean *m, int32_t value);

/* Takes in a sample, -2^30..2^30; returns the mean times length^3. */
static inline int64_t triple_mean_step(TripleMean *m, int32_t in)
{
    TripleMeanStep *oldest = &m->step[m->at];
    m->once += (int64_t)in - oldest->in;
    m->twice += m->once - oldest->once;
    m->sum += m->twice - oldest->twice;
    *oldest = (TripleMeanStep){.once = m->once, .twice = m->twice, .in = in};
    m->at = m->at + 1 == m->length ? 0 : m->at + 1;
    return m->sum;
}

/* length^3: divide what triple_mean_step() returns by it. */
static inline double triple_mean_weight(const TripleMean *m)
{
    const double n = m->length;
    return n * n * n;
}

#endif
