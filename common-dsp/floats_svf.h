/* The sections of four_svf.h in registers, in vectors of FLOATS (floats.h), each with as many fours side by side as it
 * holds. */
#ifndef LINCTUS_FLOATS_SVF_H
#define LINCTUS_FLOATS_SVF_H

#include "floats.h"
#include "four_svf.h"

typedef struct {
    Floats direct, by_first, by_second, keep, lift, rise;
} FloatsSvf;

typedef struct {
    Floats first, second;
} FloatsSvfState;

/* Fours of sections, `apart` bytes from one to the next; 0: the same four in each half of a vector. */
static INLINED FloatsSvf floats_svf_load(const FourSections *c, size_t apart)
{
    return (FloatsSvf){floats_load_fours(c->direct, apart),    floats_load_fours(c->by_first, apart),
                       floats_load_fours(c->by_second, apart), floats_load_fours(c->keep, apart),
                       floats_load_fours(c->lift, apart),      floats_load_fours(c->rise, apart)};
}

/* Their states, likewise. */
static INLINED FloatsSvfState floats_states_load(const FourStates *s, size_t apart)
{
    return (FloatsSvfState){floats_load_fours(s->first, apart), floats_load_fours(s->second, apart)};
}

static INLINED void floats_states_store(FourStates *to, size_t apart, const FloatsSvfState *s)
{
    floats_store_fours(to->first, apart, s->first);
    floats_store_fours(to->second, apart, s->second);
}

/* One sample of each section, as four_svf_step(). */
static INLINED Floats floats_svf_step(const FloatsSvf *c, FloatsSvfState *s, Floats x)
{
    const Floats v = floats_sub(x, s->second);
    const Floats held = floats_add(floats_mul(c->by_first, s->first), floats_mul(c->by_second, s->second));
    const Floats rising = floats_add(s->second, floats_mul(c->lift, s->first));
    s->first = floats_add(floats_mul(c->keep, s->first), floats_mul(c->lift, v));
    s->second = floats_add(rising, floats_mul(c->rise, v));
    return floats_add(floats_mul(c->direct, x), held);
}

#endif
