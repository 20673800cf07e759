/* svf_step() of four sections side by side, where single precision will do. Each has an input of its own; for sections
 * in series see lanes.h. */
#ifndef LINCTUS_FOUR_SVF_H
#define LINCTUS_FOUR_SVF_H

#include "four_math.h"
#include "svf.h"

/* Coefficients and states in memory, one lane for each section; for their meaning see Svf (svf.h). */
typedef struct {
    float direct[FOUR], by_first[FOUR], by_second[FOUR], keep[FOUR], lift[FOUR], rise[FOUR];
} FourSections;

typedef struct {
    float first[FOUR], second[FOUR];
} FourStates;

/* Sets the section of one lane, 0..3. */
static inline void four_sections_put(FourSections *c, uint32_t lane, const Svf *section)
{
    c->direct[lane] = (float)section->direct;
    c->by_first[lane] = (float)section->by_first;
    c->by_second[lane] = (float)section->by_second;
    c->keep[lane] = (float)section->keep;
    c->lift[lane] = (float)section->lift;
    c->rise[lane] = (float)section->rise;
}

/* States of a magnitude below `least` become 0. */
static inline void four_states_hush(FourStates *s, float least)
{
    four_store(s->first, four_hush(four_load(s->first), least));
    four_store(s->second, four_hush(four_load(s->second), least));
}

/* ---- For the loops: the same in registers ---- */

typedef struct {
    Four direct, by_first, by_second, keep, lift, rise;
} FourSvf;

typedef struct {
    Four first, second;
} FourSvfState;

static inline FourSvf four_svf_load(const FourSections *c)
{
    return (FourSvf){four_load(c->direct), four_load(c->by_first), four_load(c->by_second),
                     four_load(c->keep),   four_load(c->lift),     four_load(c->rise)};
}

static inline FourSvfState four_states_load(const FourStates *s)
{
    return (FourSvfState){four_load(s->first), four_load(s->second)};
}

static inline void four_states_store(FourStates *to, const FourSvfState *s)
{
    four_store(to->first, s->first);
    four_store(to->second, s->second);
}

/* One sample of each section: the outputs for the inputs x. */
static inline Four four_svf_step(const FourSvf *c, FourSvfState *s, Four x)
{
    const Four v = four_sub(x, s->second);
    const Four held = four_add(four_mul(c->by_first, s->first), four_mul(c->by_second, s->second));
    const Four rising = four_add(s->second, four_mul(c->lift, s->first));
    s->first = four_add(four_mul(c->keep, s->first), four_mul(c->lift, v));
    s->second = four_add(rising, four_mul(c->rise, v));
    return four_add(four_mul(c->direct, x), held);
}

#endif
