#include "trace.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

void trace_start(Trace *t, double rate)
{
    *t = (Trace){.rate = rate};
}

void trace_free(Trace *t)
{
    free(t->last);
    free(t->move);
    *t = (Trace){0};
}

static bool is_watched(const Port *port)
{
    static const char *const moment[] = {"heard", "cut", "reduction"};
    const size_t length = strlen(port->symbol);
    if (port->kind != PORT_METER)
        return false;
    for (size_t i = 0; i < sizeof moment / sizeof *moment; ++i)
        if (!strcmp(port->symbol, moment[i]))
            return true;
    return length > 3 && !strcmp(port->symbol + length - 3, "_at");
}

/* No value is NaN: the first look at a port is a change. */
static bool begin(Trace *t, const Plugin *plugin)
{
    t->plugin = plugin;
    t->last = malloc((plugin->ports + 1) * sizeof *t->last);
    for (uint32_t p = 0; t->last && p < plugin->ports; ++p)
        t->last[p] = NAN;
    return t->last != NULL;
}

static bool add(Trace *t, TraceMove move)
{
    if (t->moves == t->room) {
        const size_t room = t->room ? 2 * t->room : 1024;
        TraceMove *more = realloc(t->move, room * sizeof *more);
        if (!more)
            return false;
        t->move = more;
        t->room = room;
    }
    t->move[t->moves++] = move;
    return true;
}

void trace_take(Trace *t, const Instance *i, uint32_t n)
{
    if (!t || t->failed)
        return;
    t->failed = !t->plugin && !begin(t, instance_plugin(i));
    t->frames += n;
    for (uint32_t p = 0; !t->failed && p < t->plugin->ports; ++p) {
        const float value = is_watched(&t->plugin->port[p]) ? instance_value_at(i, p) : t->last[p];
        if (!isnan(value) && value != t->last[p])
            t->failed = !add(t, (TraceMove){(double)t->frames / t->rate, p, value});
        t->last[p] = value;
    }
}
