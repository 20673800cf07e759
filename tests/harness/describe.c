/* From Turtle to Plugin. */
#include "host_inside.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <lv2/core/lv2.h>
#include <lv2/port-groups/port-groups.h>
#include <lv2/port-props/port-props.h>
#include <lv2/presets/presets.h>
#include <lv2/units/units.h>

char *copy_text(const char *text)
{
    const size_t size = strlen(text) + 1;
    char *copy = malloc(size);
    if (copy)
        memcpy(copy, text, size);
    return copy;
}

/* ---- Reading ---- */

/* What describing needs at hand. */
typedef struct {
    LilvWorld *world;
    const LilvPlugin *plugin;
    const LilvPort *port;
    bool ok; /* false: out of memory */
} Reader;

static char *copy(Reader *r, const char *text)
{
    char *c = copy_text(text);
    r->ok &= c != NULL;
    return c;
}

/* Takes the node over. */
static char *node_text(Reader *r, LilvNode *node)
{
    char *text = copy(r, node ? lilv_node_as_string(node) : "");
    lilv_node_free(node);
    return text;
}

static LilvNode *port_node(Reader *r, const char *predicate)
{
    LilvNode *uri = lilv_new_uri(r->world, predicate);
    LilvNode *node = lilv_port_get(r->plugin, r->port, uri);
    lilv_node_free(uri);
    return node;
}

static bool port_has(Reader *r, const char *property)
{
    LilvNode *uri = lilv_new_uri(r->world, property);
    const bool has = lilv_port_has_property(r->plugin, r->port, uri);
    lilv_node_free(uri);
    return has;
}

static bool port_is(Reader *r, const char *class)
{
    LilvNode *uri = lilv_new_uri(r->world, class);
    const bool is = lilv_port_is_a(r->plugin, r->port, uri);
    lilv_node_free(uri);
    return is;
}

static float port_number(Reader *r, const char *predicate)
{
    LilvNode *node = port_node(r, predicate);
    const bool number = node && (lilv_node_is_float(node) || lilv_node_is_int(node));
    const float value = number ? lilv_node_as_float(node) : NAN;
    lilv_node_free(node);
    return value;
}

static PortKind port_kind(Reader *r)
{
    const bool input = port_is(r, LV2_CORE__InputPort);
    if (port_is(r, LV2_CORE__AudioPort))
        return input ? PORT_AUDIO_IN : PORT_AUDIO_OUT;
    if (port_is(r, LV2_CORE__ControlPort))
        return input ? PORT_CONTROL : PORT_METER;
    return PORT_OTHER;
}

/* A unit the plug-in makes up itself says how to render a number: "%.1f dBTP". */
static char *rendered_unit(Reader *r, const LilvNode *unit)
{
    LilvNode *render = lilv_new_uri(r->world, LV2_UNITS__render);
    LilvNode *text = lilv_world_get(r->world, unit, render, NULL);
    lilv_node_free(render);
    char *whole = node_text(r, text);
    if (!whole)
        return NULL;
    const char *after = strchr(whole, '%');
    after = after ? after + strcspn(after, "fFgde") : NULL;
    after = after && *after ? after + 1 : whole;
    after += strspn(after, " ");
    memmove(whole, after, strlen(after) + 1);
    return whole;
}

static char *port_unit(Reader *r)
{
    static const char *const known[][2] = {
        {LV2_UNITS__db, "dB"},         {LV2_UNITS__hz, "Hz"},
        {LV2_UNITS__khz, "kHz"},       {LV2_UNITS__ms, "ms"},
        {LV2_UNITS__s, "s"},           {LV2_UNITS__pc, "%"},
        {LV2_UNITS__oct, "octaves"},   {LV2_UNITS__coef, "x"},
        {LV2_UNITS__frame, "samples"}, {LV2_UNITS__midiNote, "MIDI note"},
    };
    LilvNode *unit = port_node(r, LV2_UNITS__unit);
    if (!unit)
        return copy(r, "");
    char *text = NULL;
    for (size_t i = 0; i < sizeof known / sizeof *known && !text; ++i) {
        if (lilv_node_is_uri(unit) && !strcmp(lilv_node_as_uri(unit), known[i][0]))
            text = copy(r, known[i][1]);
    }
    if (!text)
        text = rendered_unit(r, unit);
    lilv_node_free(unit);
    return text;
}

static int by_value(const void *a, const void *b)
{
    const float x = ((const Choice *)a)->value, y = ((const Choice *)b)->value;
    return (x > y) - (x < y);
}

static void read_choices(Reader *r, Port *port)
{
    LilvScalePoints *points = lilv_port_get_scale_points(r->plugin, r->port);
    if (!points)
        return;
    port->choose = calloc(lilv_scale_points_size(points) + 1, sizeof *port->choose);
    r->ok &= port->choose != NULL;
    LILV_FOREACH(scale_points, i, points)
    {
        if (!r->ok)
            break;
        const LilvScalePoint *point = lilv_scale_points_get(points, i);
        port->choose[port->choices++] = (Choice){copy(r, lilv_node_as_string(lilv_scale_point_get_label(point))),
                                                 lilv_node_as_float(lilv_scale_point_get_value(point))};
    }
    lilv_scale_points_free(points);
    if (r->ok)
        qsort(port->choose, port->choices, sizeof *port->choose, by_value);
}

static void read_port(Reader *r, Port *port, uint32_t index)
{
    r->port = lilv_plugin_get_port_by_index(r->plugin, index);
    port->index = index;
    port->kind = port_kind(r);
    port->symbol = copy(r, lilv_node_as_string(lilv_port_get_symbol(r->plugin, r->port)));
    port->name = node_text(r, lilv_port_get_name(r->plugin, r->port));
    port->comment = node_text(r, port_node(r, LILV_NS_RDFS "comment"));
    port->designation = node_text(r, port_node(r, LV2_CORE__designation));
    port->group = node_text(r, port_node(r, LV2_PORT_GROUPS__group));
    port->unit = port_unit(r);
    port->min = port_number(r, LV2_CORE__minimum);
    port->max = port_number(r, LV2_CORE__maximum);
    port->def = port_number(r, LV2_CORE__default);
    port->choice = port_has(r, LV2_CORE__enumeration);
    port->toggle = port_has(r, LV2_CORE__toggled);
    port->integer = port_has(r, LV2_CORE__integer);
    port->logarithmic = port_has(r, LV2_PORT_PROPS__logarithmic);
    port->reports_latency = port_has(r, LV2_CORE__reportsLatency);
    port->not_on_gui = port_has(r, LV2_PORT_PROPS__notOnGUI);
    read_choices(r, port);
}

static void read_ports(Reader *r, Plugin *plugin)
{
    const uint32_t ports = lilv_plugin_get_num_ports(r->plugin);
    plugin->port = calloc(ports + 1, sizeof *plugin->port);
    r->ok &= plugin->port != NULL;
    for (uint32_t i = 0; i < ports && r->ok; ++i) {
        read_port(r, &plugin->port[i], i);
        ++plugin->ports;
        plugin->ins += plugin->port[i].kind == PORT_AUDIO_IN;
        plugin->outs += plugin->port[i].kind == PORT_AUDIO_OUT;
    }
}

static bool has_type(Reader *r, const char *class)
{
    LilvNode *type = lilv_new_uri(r->world, LILV_NS_RDF "type");
    LilvNode *uri = lilv_new_uri(r->world, class);
    const bool has = lilv_world_ask(r->world, lilv_plugin_get_uri(r->plugin), type, uri);
    lilv_node_free(type);
    lilv_node_free(uri);
    return has;
}

/* "urn:linctus:trim-stereo" -> "trim" */
static char *stem_of(Reader *r, const char *uri)
{
    static const char suffix[] = "-stereo";
    const size_t suffix_length = sizeof suffix - 1;
    const char *last = uri + strlen(uri);
    while (last > uri && !strchr(":/#", last[-1]))
        --last;
    char *stem = copy(r, last);
    const size_t length = stem ? strlen(stem) : 0;
    if (length > suffix_length && !strcmp(stem + length - suffix_length, suffix))
        stem[length - suffix_length] = '\0';
    return stem;
}

/* Labels start with a number so that hosts sort them; people do not say it. */
static const char *without_number(const char *label)
{
    const char *text = label + strspn(label, "0123456789");
    return text == label ? label : text + strspn(text, " .:)-");
}

static void read_preset(Reader *r, Preset *preset, const LilvNode *uri)
{
    LilvNode *label = lilv_new_uri(r->world, LILV_NS_RDFS "label");
    preset->uri = copy(r, lilv_node_as_uri(uri));
    preset->full_label = node_text(r, lilv_world_get(r->world, uri, label, NULL));
    preset->label = copy(r, preset->full_label ? without_number(preset->full_label) : "");
    preset->plugin = copy(r, lilv_node_as_uri(lilv_plugin_get_uri(r->plugin)));
    lilv_node_free(label);
}

static int by_label(const void *a, const void *b)
{
    return strcmp(((const Preset *)a)->full_label, ((const Preset *)b)->full_label);
}

static void read_presets(Reader *r, Plugin *plugin)
{
    LilvNode *class = lilv_new_uri(r->world, LV2_PRESETS__Preset);
    LilvNodes *found = lilv_plugin_get_related(r->plugin, class);
    plugin->preset = calloc(lilv_nodes_size(found) + 1, sizeof *plugin->preset);
    r->ok &= plugin->preset != NULL;
    LILV_FOREACH(nodes, i, found)
    {
        if (r->ok)
            read_preset(r, &plugin->preset[plugin->presets++], lilv_nodes_get(found, i));
    }
    if (r->ok)
        qsort(plugin->preset, plugin->presets, sizeof *plugin->preset, by_label);
    lilv_nodes_free(found);
    lilv_node_free(class);
}

/* One that has a decay to set has a reverberator in it. */
static bool rings_on(const Plugin *plugin)
{
    const Port *decay = plugin_port(plugin, "decay");
    return decay && decay->kind == PORT_CONTROL;
}

bool plugin_describe(Plugin *plugin, LilvWorld *world, const LilvPlugin *lilv)
{
    Reader r = {.world = world, .plugin = lilv, .ok = true};
    *plugin = (Plugin){.lilv = lilv};
    plugin->uri = copy(&r, lilv_node_as_uri(lilv_plugin_get_uri(lilv)));
    plugin->stem = stem_of(&r, lilv_node_as_uri(lilv_plugin_get_uri(lilv)));
    plugin->name = node_text(&r, lilv_plugin_get_name(lilv));
    read_ports(&r, plugin);
    plugin->reverb = has_type(&r, LV2_CORE__ReverbPlugin) || rings_on(plugin);
    read_presets(&r, plugin);
    return r.ok;
}

static void port_free(Port *port)
{
    char *const texts[] = {port->symbol, port->name, port->comment, port->unit, port->designation, port->group};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; ++i)
        free(texts[i]);
    for (uint32_t i = 0; i < port->choices; ++i)
        free(port->choose[i].label);
    free(port->choose);
}

static void preset_free(Preset *preset)
{
    free(preset->uri);
    free(preset->label);
    free(preset->full_label);
    free(preset->plugin);
}

void plugin_free(Plugin *plugin)
{
    for (uint32_t i = 0; i < plugin->ports; ++i)
        port_free(&plugin->port[i]);
    for (uint32_t i = 0; i < plugin->presets; ++i)
        preset_free(&plugin->preset[i]);
    free(plugin->port);
    free(plugin->preset);
    free(plugin->uri);
    free(plugin->stem);
    free(plugin->name);
}
