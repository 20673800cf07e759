#include "fade.h"

#include "dsp.h"

#include <math.h>

void fade_init(Fade *f, double rate, double seconds)
{
    *f = (Fade){.step = 1.0 / fmax(1.0, floor(rate * seconds))};
}

void fade_restart(Fade *f)
{
    f->holds = false;
}

void fade_to(Fade *f, bool on)
{
    f->target = on ? 1.0 : 0.0;
    if (!f->holds)
        f->at = f->target;
    f->holds = true;
}

double fade_step(Fade *f)
{
    const double weight = f->at <= 0.0 ? 0.0 : f->at >= 1.0 ? 1.0 : 0.5 - 0.5 * cos(DSP_PI * f->at);
    f->at = f->at < f->target ? fmin(f->at + f->step, f->target) : fmax(f->at - f->step, f->target);
    return weight;
}
