#include "stage.h"

#include <string.h>

static bool apply(const char *plugin, const Setting *set, uint32_t sets, Instance *i, Error *e)
{
    for (uint32_t s = 0; s < sets; ++s)
        if (!strcmp(set[s].plugin, plugin) && !instance_set_text(i, set[s].symbol, set[s].value, e))
            return false;
    return true;
}

static bool apply_settings(const StagePlan *plan, Instance *i, Error *e)
{
    const Plugin *plugin = instance_plugin(i);
    if (plan->voice && plugin->presets && !instance_preset(i, plan->voice, e))
        return false;
    if (plan->saved && !instance_controls_from(i, plan->saved, e))
        return false;
    return apply(plan->name, plan->set, plan->sets, i, e) && apply(plan->name, plan->under, plan->unders, i, e);
}

Instance *stage_instance(const StagePlan *plan, uint32_t channels, double rate, Error *e)
{
    const Plugin *plugin = host_plugin(plan->host, plan->name, channels);
    if (!plugin) {
        error_set(e, ERROR_PLUGIN, "no plug-in \"%s\" for %s", plan->name, channels == 1 ? "mono" : "stereo");
        return NULL;
    }
    Instance *i = instance_new(plan->host, plugin, rate, INSTANCE_PLAIN, e);
    if (i && !apply_settings(plan, i, e)) {
        instance_free(i);
        return NULL;
    }
    return i;
}

/* NULL: it is not among them. */
static const Setting *setting_of(const char *plugin, const Setting *set, uint32_t sets, const char *symbol)
{
    for (uint32_t s = 0; s < sets; ++s)
        if (!strcmp(set[s].plugin, plugin) && !strcmp(set[s].symbol, symbol))
            return &set[s];
    return NULL;
}

/* A preset that says what the default is anyway is not named. */
void stage_note_origins(const StagePlan *plan, const Instance *i, Readings *r)
{
    for (uint32_t p = 0; p < r->plugin->ports; ++p) {
        const Port *port = &r->plugin->port[p];
        const Setting *set = setting_of(plan->name, plan->set, plan->sets, port->symbol);
        if (setting_of(plan->name, plan->under, plan->unders, port->symbol))
            r->port[p].origin = ORIGIN_LEAD;
        else if (set)
            r->port[p].origin = set->fitted ? ORIGIN_FITTED : ORIGIN_ASKED;
        else if (port->kind == PORT_CONTROL && instance_value_at(i, p) != port->def)
            r->port[p].origin = ORIGIN_PRESET;
    }
}

bool stage_learns(const Instance *i)
{
    return instance_value(i, "learn") > 0.5f;
}

bool stage_is_off(const Instance *i)
{
    return instance_value(i, "enabled") <= 0.f;
}
