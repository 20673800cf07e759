/* An instance's presets and its state. */
#include "host_inside.h"

#include <math.h>
#include <stdlib.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include <lv2/atom/atom.h>

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
    host_lock(i->host);
    LilvState *state = preset_state(i->host, preset, e);
    if (state)
        lilv_state_emit_port_values(state, set_from_state, i);
    lilv_state_free(state);
    host_unlock(i->host);
    return state != NULL;
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

static char *save_as_text(Instance *i, Error *e)
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

char *instance_save(Instance *i, Error *e)
{
    host_lock(i->host);
    char *text = save_as_text(i, e);
    host_unlock(i->host);
    return text;
}

bool instance_restore(Instance *i, const char *text, bool controls, Error *e)
{
    host_lock(i->host);
    const bool ok = give_state(i, lilv_state_new_from_string(i->host->world, &i->host->map, text), controls, e);
    host_unlock(i->host);
    return ok;
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

void preset_file(const Plugin *plugin, char *file, size_t size)
{
    snprintf(file, size, "%s%s.ttl", plugin->stem, plugin->ins == 1 ? "" : "-stereo");
}

bool instance_controls_from(Instance *i, const char *folder, Error *e)
{
    char file[128], path[4400];
    struct stat st;
    const float learn = instance_value(i, "learn");
    preset_file(i->plugin, file, sizeof file);
    snprintf(path, sizeof path, "%s/%s", folder, file);
    if (stat(path, &st))
        return true;
    host_lock(i->host);
    LilvState *state = lilv_state_new_from_file(i->host->world, &i->host->map, NULL, path);
    if (state)
        lilv_state_emit_port_values(state, set_from_state, i);
    lilv_state_free(state);
    host_unlock(i->host);
    instance_set(i, "learn", learn);
    return state || error_set(e, ERROR_FILE, "%s: this preset cannot be read", path);
}

bool instance_restore_from(Instance *i, const char *folder, bool controls, Error *e)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/state.ttl", folder);
    return give_state(i, lilv_state_new_from_file(i->host->world, &i->host->map, NULL, path), controls, e);
}
