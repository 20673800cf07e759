#include "plan.h"

#include "repair.h"
#include "saved.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

/* ---- The bundle ---- */

enum { PATH_ROOM = 4300 };

/* Beside this program, as in the build folder, or where `make install-render` puts it. */
static const char *const places[] = {"linctus.lv2", "../lib/lv2/linctus.lv2"};

static void folder_of_program(char *path, size_t size)
{
    const ssize_t length = readlink("/proc/self/exe", path, size - 1);
    path[length > 0 ? length : 0] = '\0';
    char *slash = strrchr(path, '/');
    if (slash)
        *slash = '\0';
    else
        snprintf(path, size, "build");
}

/* The first of the places that there is, else the first. */
static void find_bundle(char *path, size_t size)
{
    char folder[4096];
    folder_of_program(folder, sizeof folder);
    for (uint32_t i = 0; i < sizeof places / sizeof *places; ++i) {
        snprintf(path, size, "%s/%s", folder, places[i]);
        if (!access(path, F_OK))
            return;
    }
    snprintf(path, size, "%s/%s", folder, places[0]);
}

bool plan_open(Plan *p, const Options *options, Error *e)
{
    char found[PATH_ROOM];
    find_bundle(found, sizeof found);
    *p = (Plan){.options = options};
    p->host = host_open(options->bundle ? options->bundle : found, e);
    return p->host != NULL;
}

void plan_free(Plan *p)
{
    free(p->stage);
    host_close(p->host);
    *p = (Plan){0};
}

bool plan_has(const Plan *p, const char *plugin)
{
    return host_plugin(p->host, plugin, 1) && host_plugin(p->host, plugin, 2);
}

/* ---- The stages ---- */

/* Both variants of a plug-in have one stem. */
static bool stem_is_new(const Host *host, uint32_t i)
{
    for (uint32_t k = 0; k < i; ++k)
        if (!strcmp(host_plugin_at(host, k)->stem, host_plugin_at(host, i)->stem))
            return false;
    return true;
}

static bool no_such_plugin(const Plan *p, const char *name, Error *e)
{
    char names[512] = "";
    size_t used = 0;
    for (uint32_t i = 0; i < host_plugins(p->host) && used < sizeof names; ++i)
        if (stem_is_new(p->host, i))
            used += (size_t)snprintf(names + used, sizeof names - used, "%s%s", used ? ", " : "",
                                     host_plugin_at(p->host, i)->stem);
    return error_set(e, ERROR_PLUGIN, "no plug-in \"%s\"; there are: %s", name, names);
}

/* "Trim" means trim: the name becomes the bundle's own. */
static bool find_plugin(const Plan *p, char name[64], Error *e)
{
    if (host_plugin(p->host, name, 1) || host_plugin(p->host, name, 2))
        return true;
    for (uint32_t i = 0; i < host_plugins(p->host); ++i) {
        const char *stem = host_plugin_at(p->host, i)->stem;
        if (strcasecmp(name, stem) != 0)
            continue;
        memcpy(name, stem, strlen(stem) + 1);
        return true;
    }
    return no_such_plugin(p, name, e);
}

/* Or can it become one? */
static bool is_a_stage(const Options *o, const char *name)
{
    return options_has_stage(o, name) || (o->repair_heard && repair_named(name));
}

static bool find_names(const Plan *p, Error *e)
{
    const Options *o = p->options;
    for (uint32_t s = 0; s < o->stages; ++s)
        if (!find_plugin(p, o->stage[s], e))
            return false;
    for (uint32_t s = 0; s < o->sets; ++s) {
        char *name = o->set[s].plugin;
        if (!find_plugin(p, name, e))
            return false;
        if (!is_a_stage(o, name))
            return error_set(e, ERROR_PLUGIN, "--set %s.%s: this plug-in is not among the stages", name,
                             o->set[s].symbol);
    }
    return true;
}

bool plan_stages(Plan *p, Error *e)
{
    const Options *o = p->options;
    if (!find_names(p, e))
        return false;
    if (o->voice && strcmp(o->voice, "none") != 0 && !(p->voice = host_voice(p->host, o->voice, e)))
        return false;
    if (o->from && !saved_find(o->from, p->saved, sizeof p->saved, e))
        return false;
    free(p->stage);
    p->stage = calloc(o->stages, sizeof *p->stage);
    if (!p->stage)
        return error_set(e, ERROR_INSIDE, "out of memory");
    for (uint32_t s = 0; s < o->stages; ++s)
        p->stage[s] = (StagePlan){.host = p->host,
                                  .name = o->stage[s],
                                  .voice = p->voice,
                                  .saved = *p->saved ? p->saved : NULL,
                                  .set = o->set,
                                  .sets = o->sets,
                                  .levels = s < o->put && !strcmp(o->stage[s], "phrase"),
                                  .whole_hum = s < o->put && !strcmp(o->stage[s], "hum")};
    return true;
}

const StagePlan *plan_last(const Plan *p)
{
    return &p->stage[p->options->stages - 1];
}

static bool check_apart(const Plan *p, const Plugin *last, Error *e)
{
    if (!p->options->apart || (plugin_port(last, "dry") && plugin_port(last, "wet")))
        return true;
    return error_set(e, ERROR_USAGE, "--apart: the last stage, %s, has no dry and wet level", last->stem);
}

/* What a stage learns that is switched off can be heard nowhere but in a saved preset, once it is switched on. */
static bool has_to_learn(const Plan *p, const Instance *i)
{
    return stage_learns(i) && (p->options->preset || !stage_is_off(i));
}

bool plan_try(Plan *p, uint32_t channels, double rate, Error *e)
{
    for (uint32_t s = 0; s < p->options->stages; ++s) {
        Instance *i = stage_instance(&p->stage[s], channels, rate, e);
        if (!i)
            return false;
        channels = instance_plugin(i)->outs;
        p->stage[s].learns = has_to_learn(p, i);
        p->stage[s].levels &= p->stage[s].learns && !stage_is_off(i);
        p->stage[s].whole_hum &= p->stage[s].learns && !stage_is_off(i);
        const bool ok = &p->stage[s] != plan_last(p) || check_apart(p, instance_plugin(i), e);
        instance_free(i);
        if (!ok)
            return false;
    }
    return true;
}

/* ---- Who learns ---- */

uint32_t plan_group(const Plan *p)
{
    return p->options->together && p->options->ins ? p->options->ins : 1;
}

bool plan_learns(const Plan *p)
{
    for (uint32_t s = 0; s < p->options->stages; ++s)
        if (p->stage[s].learns)
            return true;
    return false;
}

bool plan_asks_check(const Plan *p)
{
    const Options *o = p->options;
    return plan_has(p, "check") && (!o->voice || o->report || o->repair_heard || plan_learns(p));
}

/* ---- A list of all of it ---- */

static void list_port(FILE *to, const Port *port)
{
    fprintf(to, "    %-18s ", port->symbol);
    for (uint32_t i = 0; i < port->choices; ++i)
        fprintf(to, "%s%s", i ? " / " : "", port->choose[i].label);
    if (port->toggle)
        fprintf(to, "off / on, %s", port->def > 0.f ? "on" : "off");
    else if (port->choice)
        fprintf(to, ", %s", port_label(port, port->def) ? port_label(port, port->def) : "");
    else
        fprintf(to, "%g..%g %s, %g", (double)port->min, (double)port->max, port->unit, (double)port->def);
    fprintf(to, "   %s\n", port->name);
}

void plan_list(const Plan *p, FILE *to)
{
    fputs("voices:\n", to);
    for (uint32_t v = 0; host_voice_at(p->host, v); ++v)
        fprintf(to, "    %s\n", host_voice_at(p->host, v));
    for (uint32_t i = 0; i < host_plugins(p->host); ++i) {
        const Plugin *plugin = host_plugin_at(p->host, i);
        if (!stem_is_new(p->host, i))
            continue;
        fprintf(to, "%s:\n", plugin->stem);
        for (uint32_t k = 0; k < plugin->ports; ++k)
            if (plugin->port[k].kind == PORT_CONTROL)
                list_port(to, &plugin->port[k]);
    }
}
