/* Three running means of equal length, one after the other, over whole numbers: a step comes out as a smooth curve
 * without kink or sudden bend, which has arrived exactly when the means have passed it. What comes out never rises or
 * falls faster than what went in, and never leaves its range. Kept in integers, so it never drifts: at rest it is its
 * input, to the bit. */
#ifndef LINCTUS_TRIPLE_MEAN_H
#define LINCTUS_TRIPLE_MEAN_H

#include <stdbool.h>
#include <stdint.h>

enum { TRIPLE_MEAN_LONGEST = 1280 }; /* its cube times 2^30 fits in 63 bits */

typedef struct {
    int64_t once, twice; /* running sums of the inputs, of `once` */
    int32_t in;
} TripleMeanStep;

typedef struct {
    TripleMeanStep *step;
    uint32_t length, at; /* of each mean; where its oldest sample lies */
    int64_t once, twice, sum;
} TripleMean;

/* length: 1..TRIPLE_MEAN_LONGEST samples each; the answer to a step takes 3 length - 2 samples. Rests at 0. Allocates;
 * false: no memory. */
bool triple_mean_init(TripleMean *m, uint32_t length);

/* Safe on a zeroed struct. */
void triple_mean_done(TripleMean *m);

/* As if it had been fed this value for ever. value: -2^30..2^30. */
void triple_mean_rest(TripleMean *m, int32_t value);

/* The mean times length^3. in: -2^30..2^30. */
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

/* length^3 */
static inline double triple_mean_weight(const TripleMean *m)
{
    const double n = m->length;
    return n * n * n;
}

#endif
