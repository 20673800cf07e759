#include "work.h"

#include "host_inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- Subjects ---- */

bool subject_make(Subject *s, const Host *host, const char *name, const char *stems, uint32_t channels)
{
    *s = (Subject){.channels = channels};
    snprintf(s->name, sizeof s->name, "%s", name);
    while (*stems && s->stages < WORK_STAGES) {
        char stem[32] = "";
        const size_t length = strcspn(stems, " ");
        snprintf(stem, sizeof stem, "%.*s", (int)length, stems);
        if (!(s->plugin[s->stages++] = host_plugin(host, stem, channels)))
            return false;
        stems += length + strspn(stems + length, " ");
    }
    return true;
}

void subject_done(Subject *s)
{
    for (uint32_t k = 0; k < s->stages; ++k)
        free(s->taught[k]);
}

void subject_teach(Subject *s, Host *host, double rate, const float *take, uint32_t frames)
{
    static Work w;
    Error e;
    work_start(&w, s, host, rate, WORK_LEARN);
    work_run(&w, take, frames, WORK_BLOCK);
    for (uint32_t k = 0; k < s->stages; ++k)
        if (plugin_port(s->plugin[k], "learn"))
            s->taught[k] = instance_save(w.stage[k], &e);
    work_end(&w);
}

void subject_tell(Subject *s, const Subject *from)
{
    for (uint32_t k = 0; k < s->stages; ++k)
        if (plugin_port(s->plugin[k], "learn"))
            s->taught[k] = strdup(from->taught[0]);
}

/* ---- At work ---- */

static void stop(const char *what)
{
    fprintf(stderr, "%s\n", what);
    exit(1);
}

/* Those that a plug-in has. */
static void set_up(Instance *i)
{
    static const struct {
        const char *plugin, *control;
        float value;
    } wanted[] = {{"tone", "dips_placed_by", 0.f}, {"tone", "low_cut_set_by", 0.f},
                  {"tone", "low_cut", 120.f},      {"tone", "low_cut_slope", 3.f},
                  {"tone", "dip1_freq", 250.f},    {"tone", "dip1_depth", -4.f},
                  {"tone", "dip1_when", 0.f},      {"tone", "dip2_freq", 390.f},
                  {"tone", "dip2_depth", -3.f},    {"tone", "dip2_when", 0.f},
                  {"tone", "dip3_freq", 830.f},    {"tone", "dip3_depth", -5.f},
                  {"tone", "dip3_when", 0.f},      {"tone", "air_lift", 3.f},
                  {"tone", "air_freq", 12000.f},   {"compressor", "wanted_reduction", 6.f}};
    for (size_t k = 0; k < sizeof wanted / sizeof *wanted; ++k)
        if (!strcmp(instance_plugin(i)->stem, wanted[k].plugin) && !instance_set(i, wanted[k].control, wanted[k].value))
            stop(wanted[k].control);
}

static Instance *start_stage(const Subject *s, uint32_t k, Host *host, double rate, WorkMode mode)
{
    Error e;
    Instance *i = instance_new(host, s->plugin[k], rate, INSTANCE_PLAIN, &e);
    if (!i || (mode != WORK_LEARN && s->taught[k] && !instance_restore(i, s->taught[k], false, &e)))
        stop(e.text);
    if (!s->preset)
        set_up(i);
    else if (!instance_preset(i, s->preset, &e))
        stop(e.text);
    instance_set(i, "learn", mode == WORK_LEARN ? 1.f : 0.f);
    instance_set(i, "enabled", mode == WORK_OFF ? 0.f : 1.f);
    instance_activate(i);
    return i;
}

/* Audio ports in their order: from one buffer into the next. A stage with one input hears the left of two. */
static void connect(Work *w, uint32_t k)
{
    const Plugin *plugin = w->subject->plugin[k];
    uint32_t in = 0, out = 0;
    for (uint32_t p = 0; p < plugin->ports; ++p) {
        if (plugin->port[p].kind == PORT_AUDIO_IN)
            lilv_instance_connect_port(w->stage[k]->lilv, p, w->buffer[k][in++]);
        if (plugin->port[p].kind == PORT_AUDIO_OUT)
            lilv_instance_connect_port(w->stage[k]->lilv, p, w->buffer[k + 1][out++]);
    }
}

void work_start(Work *w, const Subject *s, Host *host, double rate, WorkMode mode)
{
    memset(w, 0, sizeof *w);
    w->subject = s;
    for (uint32_t k = 0; k < s->stages; ++k) {
        w->stage[k] = start_stage(s, k, host, rate, mode);
        connect(w, k);
    }
}

void work_end(Work *w)
{
    for (uint32_t k = 0; k < w->subject->stages; ++k)
        instance_free(w->stage[k]);
}

void work_run(Work *w, const float *take, uint32_t frames, uint32_t block)
{
    for (uint32_t at = 0; at < frames; at += block) {
        const uint32_t n = frames - at < block ? frames - at : block;
        for (uint32_t c = 0; c < w->subject->channels; ++c)
            if (take)
                memcpy(w->buffer[0][c], take + at, n * sizeof *take);
            else
                memset(w->buffer[0][c], 0, n * sizeof *take);
        for (uint32_t k = 0; k < w->subject->stages; ++k)
            lilv_instance_run(w->stage[k]->lilv, n);
    }
}

bool work_is_same(const Work *a, const Work *b, uint32_t n)
{
    const size_t bytes = n * sizeof(float);
    return !memcmp(a->buffer[a->subject->stages][0], b->buffer[b->subject->stages][0], bytes) &&
           !memcmp(a->buffer[a->subject->stages][1], b->buffer[b->subject->stages][1], bytes);
}
