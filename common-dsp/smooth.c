#include "smooth.h"

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
