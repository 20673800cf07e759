/* svf_step() of two independent sections side by side, in double, each with an input of its own. For sections in series
 * see lanes.h. */
#ifndef LINCTUS_TWO_SVF_H
#define LINCTUS_TWO_SVF_H

#include "svf.h"
#include "two.h"

typedef struct {
    Two direct, by_first, by_second, keep, lift, rise;
} TwoSvf;

typedef struct {
    Two first, second;
} TwoSvfState;

static inline TwoSvf two_svf_of(const Svf *a, const Svf *b)
{
    return (TwoSvf){.direct = two_of(a->direct, b->direct),
                    .by_first = two_of(a->by_first, b->by_first),
                    .by_second = two_of(a->by_second, b->by_second),
                    .keep = two_of(a->keep, b->keep),
                    .lift = two_of(a->lift, b->lift),
                    .rise = two_of(a->rise, b->rise)};
}

static inline TwoSvfState two_states_of(const SvfState *a, const SvfState *b)
{
    return (TwoSvfState){two_of(a->s1, b->s1), two_of(a->s2, b->s2)};
}

static inline void two_states_split(const TwoSvfState *from, SvfState *a, SvfState *b)
{
    *a = (SvfState){two_lane(from->first, 0), two_lane(from->second, 0)};
    *b = (SvfState){two_lane(from->first, 1), two_lane(from->second, 1)};
}

/* One sample through each section, by the same arithmetic as svf_step(); returns both outputs. */
static INLINED Two two_svf_step(const TwoSvf *c, TwoSvfState *s, Two x)
{
    const Two v = two_sub(x, s->second);
    const Two held = two_add(two_mul(c->by_first, s->first), two_mul(c->by_second, s->second));
    const Two rising = two_add(s->second, two_mul(c->lift, s->first));
    s->first = two_add(two_mul(c->keep, s->first), two_mul(c->lift, v));
    s->second = two_add(rising, two_mul(c->rise, v));
    return two_add(two_mul(c->direct, x), held);
}

#endif
