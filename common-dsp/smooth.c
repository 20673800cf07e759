#include "smooth.h"

#include "two.h"
#include "units.h"

void smooth_init(Smooth *s, double steps_per_second, double tau)
{
    *s = (Smooth){.keep = one_pole(tau, steps_per_second)};
}

void smooth_restart(Smooth *s)
{
    s->holds = false;
}

void smooth_jump(Smooth *s, double value)
{
    s->target = s->first = s->value = value;
    s->holds = true;
}

void smooth_restart_at_target(Smooth *s)
{
    smooth_jump(s, s->target);
    smooth_restart(s);
}

void smooth_to(Smooth *s, double target)
{
    if (s->holds)
        s->target = target;
    else
        smooth_jump(s, target);
}

/* ---- Many steps ---- */

/* Twice as far from the target as where a step lands on it: so no step on the way here has landed. */
static bool is_far(const Smooth *s)
{
    const double far = 2e-8 * (1.0 + fabs(s->target));
    return fabs(s->first - s->target) > far || fabs(s->value - s->target) > far;
}

static void run_to_the_end(Smooth *s, double *value, uint32_t n)
{
    Smooth own = *s; /* in registers: in memory each step would wait for it */
    for (uint32_t t = 0; t < n; ++t)
        value[t] = smooth_step(&own);
    *s = own;
}

/* Steps that do not check whether they land. */
void smooth_run(Smooth *s, double *value, uint32_t n)
{
    Smooth own = *s;
    for (uint32_t t = 0; t < n; ++t) {
        own.first = own.target + own.keep * (own.first - own.target);
        value[t] = own.value = own.first + own.keep * (own.value - own.first);
    }
    if (is_far(&own))
        *s = own;
    else
        run_to_the_end(s, value, n);
}

void smooth_run_both(Smooth *a, double *value_a, Smooth *b, double *value_b, uint32_t n)
{
    const Two target = two_of(a->target, b->target), keep = two_of(a->keep, b->keep);
    Two first = two_of(a->first, b->first), value = two_of(a->value, b->value);
    for (uint32_t t = 0; t < n; ++t) {
        first = two_add(target, two_mul(keep, two_sub(first, target)));
        value = two_add(first, two_mul(keep, two_sub(value, first)));
        value_a[t] = two_lane(value, 0);
        value_b[t] = two_lane(value, 1);
    }
    Smooth own_a = *a, own_b = *b;
    own_a.first = two_lane(first, 0);
    own_b.first = two_lane(first, 1);
    own_a.value = two_lane(value, 0);
    own_b.value = two_lane(value, 1);
    if (is_far(&own_a))
        *a = own_a;
    else
        run_to_the_end(a, value_a, n);
    if (is_far(&own_b))
        *b = own_b;
    else
        run_to_the_end(b, value_b, n);
}
