#include "readings.h"

#include <math.h>
#include <stdlib.h>

bool readings_start(Readings *r, const Plugin *plugin, Error *e)
{
    r->plugin = plugin;
    r->port = calloc(plugin->ports + 1, sizeof *r->port);
    if (!r->port)
        return error_set(e, ERROR_INSIDE, "out of memory");
    for (uint32_t p = 0; p < plugin->ports; ++p)
        r->port[p] = (Reading){.lowest = INFINITY, .highest = -INFINITY};
    return true;
}

void readings_free(Readings *r)
{
    free(r->port);
    *r = (Readings){0};
}

void readings_take(Readings *r, const Instance *i)
{
    for (uint32_t p = 0; p < r->plugin->ports; ++p) {
        const float value = instance_value_at(i, p);
        r->port[p].rises += value > 0.f && !(r->port[p].last > 0.f);
        r->port[p].last = value;
        r->port[p].lowest = fminf(r->port[p].lowest, value);
        r->port[p].highest = fmaxf(r->port[p].highest, value);
    }
}

void readings_correct(Readings *r, const char *symbol, float value)
{
    const Port *const port = plugin_port(r->plugin, symbol);
    if (port)
        r->port[port->index].last = value;
}

static void add_reading(Reading *to, const Reading *take)
{
    to->last = take->last;
    to->total += take->last;
    to->lowest = fminf(to->lowest, take->lowest);
    to->highest = fmaxf(to->highest, take->highest);
    to->rises += take->rises;
}

bool readings_add(Readings *to, const Readings *take, Error *e)
{
    if (!to->plugin && !readings_start(to, take->plugin, e))
        return false;
    for (uint32_t p = 0; p < to->plugin->ports; ++p) {
        const Port *port;
        const Reading *reading = readings_of(take, to->plugin->port[p].symbol, &port);
        if (reading)
            add_reading(&to->port[p], reading);
    }
    return true;
}

const Reading *readings_of(const Readings *r, const char *symbol, const Port **port)
{
    *port = r->plugin ? plugin_port(r->plugin, symbol) : NULL;
    return *port ? &r->port[(*port)->index] : NULL;
}
