#include "host_inside.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include <lv2/atom/atom.h>
#include <lv2/core/lv2.h>

#define MOST_AUDIO_PORTS 8

/* ---- Life ---- */

static void connect_own(Instance *i, uint32_t port)
{
    const PortKind kind = i->plugin->port[port].kind;
    const bool control = kind == PORT_CONTROL || kind == PORT_METER;
    lilv_instance_connect_port(i->lilv, port, control ? &i->value[port] : NULL);
}

static void connect_all(Instance *i)
{
    for (uint32_t p = 0; p < i->plugin->ports; ++p) {
        const Port *port = &i->plugin->port[p];
        i->value[p] = port->kind == PORT_CONTROL ? port->def : 0.f;
        connect_own(i, p);
    }
}

Instance *instance_new(Host *host, const Plugin *plugin, double rate, InstanceKind kind, Error *e)
{
    Instance *i = calloc(1, sizeof *i);
    if (i) {
        *i = (Instance){.host = host, .plugin = plugin};
        i->value = calloc(plugin->ports + 1, sizeof *i->value);
        i->connected = calloc(plugin->ports + 1, sizeof *i->connected);
    }
    if (!i || !i->value || !i->connected || plugin->ins > MOST_AUDIO_PORTS || plugin->outs > MOST_AUDIO_PORTS) {
        error_set(e, ERROR_INSIDE, "%s: out of memory, or more audio ports than this host takes", plugin->uri);
        instance_free(i);
        return NULL;
    }
    host_lock(host);
    i->lilv = lilv_plugin_instantiate(plugin->lilv, rate, kind == INSTANCE_BARE ? NULL : host->features);
    host_unlock(host);
    if (!i->lilv) {
        error_set(e, ERROR_INSIDE, "%s does not start at %g Hz", plugin->uri, rate);
        instance_free(i);
        return NULL;
    }
    connect_all(i);
    return i;
}

void instance_free(Instance *i)
{
    if (!i)
        return;
    instance_deactivate(i);
    host_lock(i->host);
    if (i->lilv)
        lilv_instance_free(i->lilv);
    host_unlock(i->host);
    free(i->value);
    free(i->connected);
    free(i);
}

const Plugin *instance_plugin(const Instance *i)
{
    return i->plugin;
}

void instance_activate(Instance *i)
{
    if (!i->active)
        lilv_instance_activate(i->lilv);
    i->active = true;
}

void instance_deactivate(Instance *i)
{
    if (i->active)
        lilv_instance_deactivate(i->lilv);
    i->active = false;
}

/* ---- Ports ---- */

void instance_connect(Instance *i, uint32_t port, float *memory)
{
    i->connected[port] = true;
    lilv_instance_connect_port(i->lilv, port, memory);
}

void instance_reconnect(Instance *i, uint32_t port)
{
    i->connected[port] = false;
    connect_own(i, port);
}

bool instance_set(Instance *i, const char *symbol, float value)
{
    const Port *port = plugin_port(i->plugin, symbol);
    if (!port || port->kind != PORT_CONTROL)
        return false;
    i->value[port->index] = value;
    return true;
}

static void list_controls(const Plugin *plugin, char *text, size_t size)
{
    size_t used = 0;
    for (uint32_t p = 0; p < plugin->ports && used < size; ++p) {
        if (plugin->port[p].kind == PORT_CONTROL)
            used += (size_t)snprintf(text + used, size - used, "%s%s", used ? ", " : "", plugin->port[p].symbol);
    }
}

bool instance_set_text(Instance *i, const char *symbol, const char *value, Error *e)
{
    const Port *port = plugin_port(i->plugin, symbol);
    if (port && port->kind == PORT_METER)
        return error_set(e, ERROR_SYMBOL, "%s.%s is a read-out, it cannot be set", i->plugin->stem, symbol);
    if (!port || port->kind != PORT_CONTROL) {
        char controls[900] = "";
        list_controls(i->plugin, controls, sizeof controls);
        return error_set(e, ERROR_SYMBOL, "%s has no control \"%s\"; it has: %s", i->plugin->stem, symbol, controls);
    }
    return port_parse(i->plugin, port, value, &i->value[port->index], e);
}

float instance_value(const Instance *i, const char *symbol)
{
    const Port *port = plugin_port(i->plugin, symbol);
    return port ? i->value[port->index] : NAN;
}

float instance_value_at(const Instance *i, uint32_t port)
{
    return i->value[port];
}

/* ---- Running ---- */

/* The plug-in may not write its input; its interface just has no const. */
static float *port_memory(const float *memory)
{
    union {
        const float *from;
        float *to;
    } u = {.from = memory};
    return u.to;
}

void instance_run(Instance *i, const float *const *in, float *const *out, uint32_t n)
{
    for (uint32_t p = 0; p < i->plugin->ports; ++p) {
        const PortKind kind = i->plugin->port[p].kind;
        if (kind == PORT_AUDIO_IN && !i->connected[p])
            lilv_instance_connect_port(i->lilv, p, port_memory(*in));
        if (kind == PORT_AUDIO_OUT && !i->connected[p])
            lilv_instance_connect_port(i->lilv, p, *out);
        in += kind == PORT_AUDIO_IN;
        out += kind == PORT_AUDIO_OUT;
    }
    lilv_instance_run(i->lilv, n);
}

void instance_run_cut(Instance *i, const float *const *in, float *const *out, uint32_t n, const uint32_t *lengths,
                      uint32_t how_many)
{
    uint32_t at = 0;
    for (uint32_t turn = 0; at < n; ++turn) {
        const uint32_t wish = lengths[turn % how_many];
        const uint32_t m = wish < n - at ? wish : n - at;
        const float *from[MOST_AUDIO_PORTS];
        float *to[MOST_AUDIO_PORTS];
        for (uint32_t c = 0; c < i->plugin->ins; ++c)
            from[c] = in[c] + at;
        for (uint32_t c = 0; c < i->plugin->outs; ++c)
            to[c] = out[c] + at;
        instance_run(i, from, to, m);
        at += m;
    }
}

uint32_t instance_latency(Instance *i)
{
    float *nowhere[MOST_AUDIO_PORTS] = {NULL};
    const float *nothing[MOST_AUDIO_PORTS] = {NULL};
    for (uint32_t p = 0; p < i->plugin->ports; ++p) {
        if (!i->plugin->port[p].reports_latency)
            continue;
        instance_run(i, nothing, nowhere, 0);
        return i->value[p] > 0.f ? (uint32_t)lrintf(i->value[p]) : 0;
    }
    return 0;
}

/* ---- For tests that speak to the plug-in ---- */

const LV2_State_Interface *instance_state(const Instance *i)
{
    return lilv_instance_get_extension_data(i->lilv, LV2_STATE__interface);
}

LV2_Handle instance_handle(const Instance *i)
{
    return lilv_instance_get_handle(i->lilv);
}
