#include "ranges.h"

#include <math.h>
#include <string.h>

static bool is_spoken(const char *label)
{
    return strncmp(label, "Spoken", strlen("Spoken")) == 0;
}

void ranges_add(Ranges *r, const Readings *check)
{
    const Port *port;
    const Reading *range = readings_of(check, "voice_range", &port);
    const char *label = range && range->last > 0.f ? port_label(port, range->last) : NULL;
    if (!label)
        return;
    const bool first = !r->sung && !r->spoken;
    const double place = (double)range->last;
    r->lowest = first ? place : fmin(r->lowest, place);
    r->highest = first ? place : fmax(r->highest, place);
    r->spoken |= is_spoken(label);
    r->sung |= !is_spoken(label);
}

bool ranges_are_one(const Ranges *r)
{
    return !(r->sung && r->spoken) && r->highest - r->lowest <= 1.0;
}
