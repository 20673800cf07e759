#include "stage.h"

#include <string.h>

static bool apply_settings(const StagePlan *plan, Instance *i, Error *e)
{
    const Plugin *plugin = instance_plugin(i);
    if (plan->voice && plugin->presets && !instance_preset(i, plan->voice, e))
        return false;
    if (plan->saved && !instance_controls_from(i, plan->saved, e))
        return false;
    for (uint32_t s = 0; s < plan->sets; ++s) {
        const Setting *set = &plan->set[s];
        if (!strcmp(set->plugin, plan->name) && !instance_set_text(i, set->symbol, set->value, e))
            return false;
    }
    return true;
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

/* NULL: nobody asked for it. */
static const Setting *setting_of(const StagePlan *plan, const char *symbol)
{
    for (uint32_t s = 0; s < plan->sets; ++s)
        if (!strcmp(plan->set[s].plugin, plan->name) && !strcmp(plan->set[s].symbol, symbol))
            return &plan->set[s];
    return NULL;
}

/* A preset that says what the default is anyway is not named. */
void stage_note_origins(const StagePlan *plan, const Instance *i, Readings *r)
{
    for (uint32_t p = 0; p < r->plugin->ports; ++p) {
        const Port *port = &r->plugin->port[p];
        const Setting *set = setting_of(plan, port->symbol);
        if (set)
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
