#include "work.h"

#include <math.h>

void work_grant(Work *w, double budget)
{
    w->due = fmin(w->due, 0.0) + budget;
    w->cell = 0.0;
}

bool work_next(const Work *w)
{
    return w->due > 0.0;
}

void work_did(Work *w, double cost)
{
    w->due -= cost;
    w->cell += cost;
    w->most = fmax(w->most, w->cell);
}
