/* What a person writes as the value of a port, and which ports and presets there are. */
#include "host.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* ---- Labels and values ---- */

static int label_letter(char c)
{
    return c == '-' || c == '_' ? ' ' : tolower((unsigned char)c);
}

bool label_is(const char *whole, const char *part, bool start)
{
    while (*part && *whole && label_letter(*whole) == label_letter(*part)) {
        ++whole;
        ++part;
    }
    return !*part && (start || !*whole);
}

const char *port_label(const Port *port, float value)
{
    for (uint32_t i = 0; i < port->choices; ++i) {
        if (port->choose[i].value == value)
            return port->choose[i].label;
    }
    return NULL;
}

static void list_choices(const Port *port, char *text, size_t size)
{
    size_t used = 0;
    for (uint32_t i = 0; i < port->choices && used < size; ++i)
        used += (size_t)snprintf(text + used, size - used, "%s\"%s\" (%g)", i ? ", " : "", port->choose[i].label,
                                 (double)port->choose[i].value);
}

/* A unit may stand behind it, as it stands behind the figures that render prints. */
static bool parse_number(const char *text, const char *unit, float *value)
{
    char *end;
    const double x = strtod(text, &end);
    while (isspace((unsigned char)*end))
        ++end;
    if (end == text || (*end && strcasecmp(end, unit) != 0) || !isfinite(x))
        return false;
    *value = (float)x;
    return true;
}

static bool parse_choice(const Plugin *plugin, const Port *port, const char *text, float *value, Error *e)
{
    for (uint32_t i = 0; i < port->choices; ++i) {
        if (label_is(port->choose[i].label, text, false)) {
            *value = port->choose[i].value;
            return true;
        }
    }
    if (parse_number(text, port->unit, value) && port_label(port, *value))
        return true;
    char choices[512] = "";
    list_choices(port, choices, sizeof choices);
    return error_set(e, ERROR_VALUE, "%s.%s does not take \"%s\"; it takes %s", plugin->stem, port->symbol, text,
                     choices);
}

static bool parse_toggle(const char *text, float *value)
{
    const bool on = label_is("on", text, false) || !strcmp(text, "1");
    const bool off = label_is("off", text, false) || !strcmp(text, "0");
    *value = on ? 1.f : 0.f;
    return on || off;
}

bool port_parse(const Plugin *plugin, const Port *port, const char *text, float *value, Error *e)
{
    if (port->choice)
        return parse_choice(plugin, port, text, value, e);
    if (port->toggle)
        return parse_toggle(text, value) || error_set(e, ERROR_VALUE, "%s.%s does not take \"%s\"; it takes on or off",
                                                      plugin->stem, port->symbol, text);
    if (!parse_number(text, port->unit, value))
        return error_set(e, ERROR_VALUE, "%s.%s does not take \"%s\"; it takes a number from %g to %g %s", plugin->stem,
                         port->symbol, text, (double)port->min, (double)port->max, port->unit);
    if (*value < port->min || *value > port->max)
        return error_set(e, ERROR_VALUE, "%s.%s does not go to %s; it goes from %g to %g %s", plugin->stem,
                         port->symbol, text, (double)port->min, (double)port->max, port->unit);
    return true;
}

const Port *plugin_port(const Plugin *plugin, const char *symbol)
{
    for (uint32_t i = 0; i < plugin->ports; ++i) {
        if (!strcmp(plugin->port[i].symbol, symbol))
            return &plugin->port[i];
    }
    return NULL;
}

const Preset *plugin_preset(const Plugin *plugin, const char *uri_or_label)
{
    for (uint32_t i = 0; i < plugin->presets; ++i) {
        const Preset *p = &plugin->preset[i];
        if (!strcmp(p->uri, uri_or_label) || !strcmp(p->label, uri_or_label) || !strcmp(p->full_label, uri_or_label))
            return p;
    }
    return NULL;
}
