#include "host_inside.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include <lv2/atom/atom.h>
#include <lv2/core/lv2.h>

#define MOST_AUDIO_PORTS 8

struct Instance {
    Host *host;
    const Plugin *plugin;
    LilvInstance *lilv;
    float *value;    /* one a port */
    bool *connected; /* the caller's own memory, one a port */
    bool active;
};

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
    i->lilv = lilv_plugin_instantiate(plugin->lilv, rate, kind == INSTANCE_BARE ? NULL : host->features);
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
    if (i->lilv)
        lilv_instance_free(i->lilv);
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

/* ---- Presets and state ---- */

/* Turtle writes a number in any of these types. */
static bool number_from(Host *host, const void *value, uint32_t size, uint32_t type, float *number)
{
    if (type == host_urid(host, LV2_ATOM__Float) && size == sizeof(float)) {
        memcpy(number, value, sizeof *number);
        return true;
    }
    if (type == host_urid(host, LV2_ATOM__Double) && size == sizeof(double)) {
        double x;
        memcpy(&x, value, sizeof x);
        *number = (float)x;
        return true;
    }
    const bool small = type == host_urid(host, LV2_ATOM__Int) || type == host_urid(host, LV2_ATOM__Bool);
    if (small && size == sizeof(int32_t)) {
        int32_t x;
        memcpy(&x, value, sizeof x);
        *number = (float)x;
        return true;
    }
    return false;
}

static void set_from_state(const char *symbol, void *instance, const void *value, uint32_t size, uint32_t type)
{
    Instance *i = instance;
    float x;
    if (number_from(i->host, value, size, type, &x))
        instance_set(i, symbol, x);
}

static const void *get_for_state(const char *symbol, void *instance, uint32_t *size, uint32_t *type)
{
    Instance *i = instance;
    const Port *port = plugin_port(i->plugin, symbol);
    *size = port ? sizeof(float) : 0;
    *type = port ? host_urid(i->host, LV2_ATOM__Float) : 0;
    return port ? &i->value[port->index] : NULL;
}

static LilvState *preset_state(Host *host, const Preset *preset, Error *e)
{
    LilvNode *uri = lilv_new_uri(host->world, preset->uri);
    lilv_world_load_resource(host->world, uri);
    LilvState *state = lilv_state_new_from_world(host->world, &host->map, uri);
    lilv_node_free(uri);
    if (!state)
        error_set(e, ERROR_INSIDE, "%s: the preset cannot be read", preset->uri);
    return state;
}

bool instance_preset(Instance *i, const char *uri_or_label, Error *e)
{
    const Preset *preset = plugin_preset(i->plugin, uri_or_label);
    if (!preset)
        return error_set(e, ERROR_VOICE, "%s has no preset \"%s\"", i->plugin->stem, uri_or_label);
    LilvState *state = preset_state(i->host, preset, e);
    if (!state)
        return false;
    lilv_state_emit_port_values(state, set_from_state, i);
    lilv_state_free(state);
    return true;
}

typedef struct {
    Host *host;
    PresetContent *content;
} PresetReader;

static void note_value(const char *symbol, void *reader, const void *value, uint32_t size, uint32_t type)
{
    PresetReader *r = reader;
    const uint32_t at = r->content->values++;
    if (at >= PRESET_VALUES)
        return;
    snprintf(r->content->value[at].symbol, sizeof r->content->value[at].symbol, "%s", symbol);
    if (!number_from(r->host, value, size, type, &r->content->value[at].value))
        r->content->value[at].value = NAN;
}

bool host_preset_read(Host *host, const Preset *preset, PresetContent *content, Error *e)
{
    LilvState *state = preset_state(host, preset, e);
    if (!state)
        return false;
    *content = (PresetContent){.properties = lilv_state_get_num_properties(state)};
    const LilvNode *plugin = lilv_state_get_plugin_uri(state);
    snprintf(content->plugin, sizeof content->plugin, "%s", plugin ? lilv_node_as_uri(plugin) : "");
    lilv_state_emit_port_values(state, note_value, &(PresetReader){host, content});
    lilv_state_free(state);
    return true;
}

static LilvState *take_state(Instance *i, const char *folder, Error *e)
{
    LilvState *state =
        lilv_state_new_from_instance(i->plugin->lilv, i->lilv, &i->host->map, NULL, NULL, NULL, folder, get_for_state,
                                     i, LV2_STATE_IS_POD | LV2_STATE_IS_PORTABLE, i->host->features);
    if (!state)
        error_set(e, ERROR_INSIDE, "%s: no state to save", i->plugin->uri);
    return state;
}

static bool give_state(Instance *i, LilvState *state, bool controls, Error *e)
{
    if (!state)
        return error_set(e, ERROR_INSIDE, "%s: the saved state cannot be read", i->plugin->uri);
    lilv_state_restore(state, i->lilv, controls ? set_from_state : NULL, i, 0, i->host->features);
    lilv_state_free(state);
    return true;
}

char *instance_save(Instance *i, Error *e)
{
    LilvState *state = take_state(i, NULL, e);
    if (!state)
        return NULL;
    char *text =
        lilv_state_to_string(i->host->world, &i->host->map, &i->host->unmap, state, "urn:linctus:harness:state", NULL);
    lilv_state_free(state);
    if (!text)
        error_set(e, ERROR_INSIDE, "%s: the state cannot be written as text", i->plugin->uri);
    return text;
}

bool instance_restore(Instance *i, const char *text, bool controls, Error *e)
{
    return give_state(i, lilv_state_new_from_string(i->host->world, &i->host->map, text), controls, e);
}

bool instance_save_to(Instance *i, const char *folder, Error *e)
{
    mkdir(folder, 0777);
    LilvState *state = take_state(i, folder, e);
    if (!state)
        return false;
    const int failed =
        lilv_state_save(i->host->world, &i->host->map, &i->host->unmap, state, NULL, folder, "state.ttl");
    lilv_state_free(state);
    return !failed || error_set(e, ERROR_WRITE, "%s: the state cannot be written here", folder);
}

/* A preset that is loaded switches nothing on. */
static const void *get_for_preset(const char *symbol, void *instance, uint32_t *size, uint32_t *type)
{
    const Instance *i = instance;
    const Port *port = plugin_port(i->plugin, symbol);
    const bool is_on = port && !strcmp(port->designation, LV2_CORE__enabled) && i->value[port->index] > 0.f;
    *size = 0;
    *type = 0;
    return is_on ? NULL : get_for_state(symbol, instance, size, type);
}

bool instance_save_preset(Instance *i, const char *label, const char *folder, const char *file, Error *e)
{
    Host *host = i->host;
    LilvState *state =
        lilv_state_new_from_instance(i->plugin->lilv, i->lilv, &host->map, NULL, NULL, NULL, folder, get_for_preset, i,
                                     LV2_STATE_IS_POD | LV2_STATE_IS_PORTABLE, host->features);
    if (!state)
        return error_set(e, ERROR_INSIDE, "%s: no state to save", i->plugin->uri);
    lilv_state_set_label(state, label);
    const int failed = lilv_state_save(host->world, &host->map, &host->unmap, state, NULL, folder, file);
    lilv_state_free(state);
    return !failed || error_set(e, ERROR_WRITE, "%s/%s: the preset cannot be written", folder, file);
}

bool instance_restore_from(Instance *i, const char *folder, bool controls, Error *e)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/state.ttl", folder);
    return give_state(i, lilv_state_new_from_file(i->host->world, &i->host->map, NULL, path), controls, e);
}

const LV2_State_Interface *instance_state(const Instance *i)
{
    return lilv_instance_get_extension_data(i->lilv, LV2_STATE__interface);
}

LV2_Handle instance_handle(const Instance *i)
{
    return lilv_instance_get_handle(i->lilv);
}
