#include "rendering.h"

#include "advice.h"
#include "options.h"
#include "preset.h"
#include "report.h"
#include "soundfile.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

/* Seconds. Check's read-outs of a note's end, a rest and a pop come up to half a second after it. */
#define CHECK_SILENCE 0.6

/* One run of the program. */
typedef struct {
    FILE *out, *err;
    Options options;
    Host *host;
    const char *voice; /* label of the one that was named; NULL: none */
    Readings *check;   /* by group: what Check heard */
    Readings *tone;    /* and, for advice alone, what Tone and Esses found in the take as it came */
    Readings *esses;
    StagePlan *plan; /* one a stage */
    Take *take;      /* one an IN */
    SoundOut *sound; /* two a take: the mix, or voice and ambience */
    char **path;     /* of each, NULL where there is none */
    char *folder;    /* where OUT and the working copies lie */
    bool made_folder;
    PresetBundle preset; /* what --save-preset writes */
    StageResult *result; /* by group, then by stage */
    Progress progress;
} Run;

static const char *base_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

static bool no_memory(Error *e)
{
    return error_set(e, ERROR_INSIDE, "out of memory");
}

/* ---- The bundle and what was asked of it ---- */

static void bundle_beside_program(char *path, size_t size)
{
    char self[4096];
    const ssize_t length = readlink("/proc/self/exe", self, sizeof self - 1);
    self[length > 0 ? length : 0] = '\0';
    char *slash = strrchr(self, '/');
    if (slash)
        *slash = '\0';
    snprintf(path, size, "%s/linctus.lv2", slash ? self : "build");
}

static bool open_host(Run *r, Error *e)
{
    char beside[4200];
    bundle_beside_program(beside, sizeof beside);
    r->host = host_open(r->options.bundle ? r->options.bundle : beside, e);
    return r->host != NULL;
}

static bool stem_is_new(const Host *host, uint32_t i)
{
    for (uint32_t k = 0; k < i; ++k)
        if (!strcmp(host_plugin_at(host, k)->stem, host_plugin_at(host, i)->stem))
            return false;
    return true;
}

static bool no_such_plugin(const Run *r, const char *name, Error *e)
{
    char names[512] = "";
    size_t used = 0;
    for (uint32_t i = 0; i < host_plugins(r->host) && used < sizeof names; ++i)
        if (stem_is_new(r->host, i))
            used += (size_t)snprintf(names + used, sizeof names - used, "%s%s", used ? ", " : "",
                                     host_plugin_at(r->host, i)->stem);
    return error_set(e, ERROR_PLUGIN, "no plug-in \"%s\"; there are: %s", name, names);
}

static bool is_a_stage(const Run *r, const char *name)
{
    for (uint32_t s = 0; s < r->options.stages; ++s)
        if (!strcmp(r->options.stage[s], name))
            return true;
    return false;
}

static bool check_names(const Run *r, Error *e)
{
    const Options *o = &r->options;
    for (uint32_t s = 0; s < o->stages; ++s)
        if (!host_plugin(r->host, o->stage[s], 1) && !host_plugin(r->host, o->stage[s], 2))
            return no_such_plugin(r, o->stage[s], e);
    for (uint32_t s = 0; s < o->sets; ++s) {
        const char *name = o->set[s].plugin;
        if (!host_plugin(r->host, name, 1) && !host_plugin(r->host, name, 2))
            return no_such_plugin(r, name, e);
        if (!is_a_stage(r, name))
            return error_set(e, ERROR_PLUGIN, "--set %s.%s: this plug-in is not among the stages", name,
                             o->set[s].symbol);
    }
    return true;
}

static bool make_plan(Run *r, Error *e)
{
    const Options *o = &r->options;
    if (!check_names(r, e))
        return false;
    if (o->voice && strcmp(o->voice, "none") != 0 && !(r->voice = host_voice(r->host, o->voice, e)))
        return false;
    r->plan = calloc(o->stages, sizeof *r->plan);
    if (!r->plan)
        return no_memory(e);
    for (uint32_t s = 0; s < o->stages; ++s)
        r->plan[s] =
            (StagePlan){.host = r->host, .name = o->stage[s], .voice = r->voice, .set = o->set, .sets = o->sets};
    return true;
}

static const StagePlan *last_stage(const Run *r)
{
    return &r->plan[r->options.stages - 1];
}

static bool check_apart(const Run *r, const Plugin *last, Error *e)
{
    if (!r->options.apart || (plugin_port(last, "dry") && plugin_port(last, "wet")))
        return true;
    return error_set(e, ERROR_USAGE, "--apart: the last stage, %s, has no dry and wet level", last->stem);
}

/* Starts every stage once as it will run later, so that a wrong setting is told before a long listen. */
static bool try_chain(const Run *r, uint32_t channels, double rate, Error *e)
{
    for (uint32_t s = 0; s < r->options.stages; ++s) {
        Instance *i = stage_instance(&r->plan[s], channels, rate, e);
        if (!i)
            return false;
        channels = instance_plugin(i)->outs;
        const bool ok = &r->plan[s] != last_stage(r) || check_apart(r, instance_plugin(i), e);
        instance_free(i);
        if (!ok)
            return false;
    }
    return true;
}

/* ---- Where the mix goes ---- */

static bool is_folder(const char *path)
{
    struct stat st;
    return !stat(path, &st) && S_ISDIR(st.st_mode);
}

static bool wants_folder(const Run *r)
{
    const char *out = r->options.out;
    const size_t length = strlen(out);
    return r->options.ins > 1 || (length && out[length - 1] == '/') || is_folder(out);
}

static char *joined(const char *a, const char *b, size_t b_length, const char *c)
{
    const size_t size = strlen(a) + b_length + strlen(c) + 2;
    char *text = malloc(size);
    if (text)
        snprintf(text, size, "%s%s%.*s%s", a, *a && a[strlen(a) - 1] != '/' ? "/" : "", (int)b_length, b, c);
    return text;
}

/* "lead.take 2.flac" -> 11 */
static size_t stem_length(const char *name)
{
    const char *dot = strrchr(name, '.');
    return dot && dot != name ? (size_t)(dot - name) : strlen(name);
}

static bool name_outputs(Run *r, uint32_t take, const char *name, Error *e)
{
    const size_t length = stem_length(name);
    char **path = &r->path[(size_t)2 * take];
    path[0] = joined(r->folder, name, length, r->options.apart ? "-voice.wav" : ".wav");
    path[1] = r->options.apart ? joined(r->folder, name, length, "-ambience.wav") : NULL;
    return (path[0] && (path[1] || !r->options.apart)) || no_memory(e);
}

static bool split_out(Run *r, Error *e)
{
    const char *out = r->options.out, *name = base_name(out);
    if (wants_folder(r)) {
        r->folder = joined("", out, strlen(out), "");
        return r->folder || no_memory(e);
    }
    const char *dot = name + stem_length(name);
    if (!*name || strcasecmp(dot, ".wav") != 0)
        return error_set(e, ERROR_USAGE, "%s: OUT is written as WAV, let its name end in .wav", out);
    r->folder = name == out ? joined("", ".", 1, "") : joined("", out, (size_t)(name - out), "");
    return r->folder || no_memory(e);
}

static bool make_folder(Run *r, Error *e)
{
    if (!wants_folder(r) || is_folder(r->folder))
        return true;
    r->made_folder = !mkdir(r->folder, 0777);
    return r->made_folder || error_set(e, ERROR_WRITE, "%s: this folder cannot be made", r->folder);
}

static bool same_file(const char *a, const char *b)
{
    struct stat x, y;
    return !stat(a, &x) && !stat(b, &y) && x.st_dev == y.st_dev && x.st_ino == y.st_ino;
}

static bool check_output(const Run *r, const char *path, uint32_t index, Error *e)
{
    struct stat st;
    if (!stat(path, &st) && !S_ISREG(st.st_mode))
        return error_set(e, ERROR_WRITE, "%s: cannot write: not a plain file", path);
    for (uint32_t t = 0; t < r->options.ins; ++t)
        if (same_file(path, r->options.in[t]))
            return error_set(e, ERROR_USAGE, "%s: OUT would overwrite a take", path);
    for (uint32_t i = 0; i < index; ++i)
        if (r->path[i] && !strcmp(r->path[i], path))
            return error_set(e, ERROR_USAGE, "%s: two takes would be written here", path);
    return true;
}

static bool plan_outputs(Run *r, Error *e)
{
    r->path = calloc(2 * (size_t)r->options.ins, sizeof *r->path);
    r->sound = calloc(2 * (size_t)r->options.ins, sizeof *r->sound);
    if (!r->path || !r->sound)
        return no_memory(e);
    if (!split_out(r, e))
        return false;
    for (uint32_t t = 0; t < r->options.ins; ++t) {
        const char *name = base_name(wants_folder(r) ? r->options.in[t] : r->options.out);
        if (!name_outputs(r, t, name, e))
            return false;
        for (uint32_t part = 0; part < 2; ++part)
            if (r->path[(size_t)2 * t + part] && !check_output(r, r->path[(size_t)2 * t + part], 2 * t + part, e))
                return false;
    }
    return true;
}

/* ---- Reading ---- */

static void note_source(Take *t, const SoundIn *s)
{
    t->path = s->path;
    t->name = base_name(s->path);
    t->rate = s->rate;
    t->channels = s->channels;
    t->promised = s->promised;
    snprintf(t->format, sizeof t->format, "%s", s->format);
}

/* Looks at every take before any is read: a wrong name among ten shows at once. */
static bool look_at_takes(Run *r, double *frames, Error *e)
{
    for (uint32_t t = 0; t < r->options.ins; ++t) {
        SoundIn s;
        if (!sound_open(&s, r->options.in[t], e))
            return false;
        note_source(&r->take[t], &s);
        sound_close(&s);
        *frames += (double)s.promised;
        if (!try_chain(r, s.channels, s.rate, e))
            return false;
    }
    return true;
}

static bool copy_in(Run *r, Take *t, SoundIn *s, Error *e)
{
    float memory[DSP_CHANNELS][SOUND_BLOCK];
    float *const block[DSP_CHANNELS] = {memory[0], memory[1]};
    const float *const from[DSP_CHANNELS] = {memory[0], memory[1]};
    for (uint32_t n = SOUND_BLOCK; n;) {
        n = sound_read(s, block, SOUND_BLOCK);
        if (!spool_write(t->audio, from, n, e) || !progress_add(&r->progress, n, "reading", "", t->name, e))
            return false;
    }
    t->frames = s->frames;
    t->not_finite = s->not_finite;
    return t->frames || error_set(e, ERROR_EMPTY, "%s: empty, not one sample can be read", t->path);
}

static bool read_takes(Run *r, Error *e)
{
    for (uint32_t t = 0; t < r->options.ins; ++t) {
        SoundIn s;
        if (!sound_open(&s, r->options.in[t], e))
            return false;
        r->take[t].audio = spool_new(r->folder, s.rate, s.channels, e);
        const bool ok = r->take[t].audio && copy_in(r, &r->take[t], &s, e);
        sound_close(&s);
        if (!ok)
            return false;
    }
    return true;
}

/* ---- The chain ---- */

/* Voice and ambience: the last stage once with its wet level silent, once with its dry level silent. */
static bool set_apart(Run *r, Take *t, const char *state, const Spool *mix, Error *e)
{
    static const char *const silent[] = {"wet", "dry"};
    const Plugin *plugin = host_plugin(r->host, last_stage(r)->name, spool_channels(t->audio));
    for (uint32_t part = 0; part < 2; ++part) {
        const Pin pin = {silent[part], plugin_port(plugin, silent[part])->min};
        if (!stage_mix(last_stage(r), t->name, state, pin, spool_frames(mix), t->audio, r->folder, &t->part[part], NULL,
                       &r->progress, e))
            return false;
    }
    return true;
}

static bool mix_take(Run *r, uint32_t stage, Take *t, const char *state, Effect *effect, Error *e)
{
    Spool *mix = NULL;
    if (!stage_mix(&r->plan[stage], t->name, state, (Pin){0}, 0, t->audio, r->folder, &mix, effect, &r->progress, e))
        return false;
    const bool ok = !r->options.apart || &r->plan[stage] != last_stage(r) || set_apart(r, t, state, mix, e);
    spool_free(t->audio);
    t->audio = mix;
    t->mix = effect->out;
    t->mix_frames = spool_frames(mix);
    t->mix_channels = spool_channels(mix);
    return ok;
}

/* One stage over the takes of a group: it listens to all of them, then mixes each. */
static bool run_stage(Run *r, uint32_t stage, Take *take, uint32_t takes, StageResult *result, Error *e)
{
    bool ok = true;
    result->name = r->plan[stage].name;
    result->effect = calloc(takes, sizeof *result->effect);
    if (!result->effect)
        return no_memory(e);
    for (uint32_t t = 0; t < takes && ok; ++t)
        ok =
            stage_listen(&r->plan[stage], take[t].name, take[t].audio, &result->state, &result->heard, &r->progress, e);
    result->learned = result->state != NULL;
    for (uint32_t t = 0; t < takes && ok; ++t)
        ok = mix_take(r, stage, &take[t], result->state, &result->effect[t], e);
    return ok;
}

/* Takes in a group share what is learned. */
static uint32_t group_size(const Run *r)
{
    return r->options.together && r->options.ins ? r->options.ins : 1;
}

/* A plug-in hears all takes of a group, before anything is done to them. A bundle without it: nothing is heard. */
static bool hear_group(Run *r, const StagePlan *plan, Take *take, uint32_t takes, Readings *heard, Error *e)
{
    char *state = NULL;
    bool ok = true;
    if (!host_plugin(r->host, plan->name, 1) || !host_plugin(r->host, plan->name, 2))
        return true;
    for (uint32_t t = 0; t < takes && ok; ++t)
        ok = stage_listen(plan, take[t].name, take[t].audio, &state, heard, &r->progress, e);
    free(state);
    return ok;
}

static bool hear_groups(Run *r, const StagePlan *plan, Readings **heard, Error *e)
{
    const uint32_t group = group_size(r);
    *heard = calloc(r->options.ins, sizeof **heard);
    if (!*heard)
        return no_memory(e);
    for (uint32_t t = 0; t < r->options.ins; t += group)
        if (!hear_group(r, plan, &r->take[t], group, &(*heard)[t / group], e))
            return false;
    return true;
}

static bool check_groups(Run *r, Error *e)
{
    return hear_groups(r, &(StagePlan){.host = r->host, .name = "check", .silence = CHECK_SILENCE}, &r->check, e);
}

/* Levels count for both by difference alone: the take as it came tells them what it tells them in the chain. */
static bool ask_tone_and_esses(Run *r, Error *e)
{
    const StagePlan tone = {.host = r->host, .name = "tone", .set = &advice_tone, .sets = 1};
    const StagePlan esses = {.host = r->host, .name = "esses"};
    return hear_groups(r, &tone, &r->tone, e) && hear_groups(r, &esses, &r->esses, e);
}

/* The presets whose label is the range that Check heard; NULL: it could not tell, or there are none for it. */
static const char *voice_heard(const Run *r, const Readings *check)
{
    const Port *port;
    const Reading *range = readings_of(check, "voice_range", &port);
    const char *label = range && range->last > 0.f ? port_label(port, range->last) : NULL;
    Error unknown;
    return label ? host_voice(r->host, label, &unknown) : NULL;
}

static const char *voice_of_group(const Run *r, uint32_t group)
{
    return r->options.voice ? r->voice : voice_heard(r, &r->check[group]);
}

static bool run_chain(Run *r, Error *e)
{
    const uint32_t group = group_size(r);
    r->result = calloc((size_t)(r->options.ins / group) * r->options.stages + 1, sizeof *r->result);
    if (!r->result)
        return no_memory(e);
    for (uint32_t t = 0; t < r->options.ins; t += group) {
        for (uint32_t s = 0; s < r->options.stages; ++s)
            r->plan[s].voice = voice_of_group(r, t / group);
        for (uint32_t s = 0; s < r->options.stages; ++s)
            if (!run_stage(r, s, &r->take[t], group, &r->result[(size_t)(t / group) * r->options.stages + s], e))
                return false;
    }
    return true;
}

/* ---- Writing ---- */

static bool copy_out(Run *r, SoundOut *s, Spool *from, const char *name, Error *e)
{
    float memory[DSP_CHANNELS][SOUND_BLOCK];
    float *const block[DSP_CHANNELS] = {memory[0], memory[1]};
    const float *const to[DSP_CHANNELS] = {memory[0], memory[1]};
    for (uint32_t n = SOUND_BLOCK; n == SOUND_BLOCK;) {
        if (!spool_read(from, block, SOUND_BLOCK, &n, e) || !sound_write(s, to, n, e) ||
            !progress_add(&r->progress, n, "writing", "", name, e))
            return false;
    }
    return true;
}

static bool write_one(Run *r, uint32_t take, uint32_t part, Error *e)
{
    Take *t = &r->take[take];
    SoundOut *s = &r->sound[(size_t)2 * take + part];
    Spool *from = r->options.apart ? t->part[part] : t->audio;
    const char *path = r->path[(size_t)2 * take + part];
    if (!sound_create(s, path, t->rate, spool_channels(from), spool_frames(from), r->options.is_float, e) ||
        !spool_rewind(from, e) || !copy_out(r, s, from, t->name, e) || !sound_finish(s, e))
        return false;
    t->out[part] = path;
    t->over[part] = s->over;
    return true;
}

static bool save_preset(Run *r, Error *e)
{
    if (!r->options.preset)
        return true;
    if (!preset_bundle_make(&r->preset, e))
        return false;
    for (uint32_t s = 0; s < r->options.stages; ++s)
        if (!preset_bundle_add(&r->preset, &r->plan[s], r->result[s].state, &r->result[s].effect->readings,
                               r->take->rate, e))
            return false;
    return true;
}

/* Every file is complete before the first gets its name. */
static bool write_takes(Run *r, Error *e)
{
    const uint32_t parts = r->options.apart ? 2 : 1;
    for (uint32_t t = 0; t < r->options.ins; ++t)
        for (uint32_t part = 0; part < parts; ++part)
            if (!write_one(r, t, part, e))
                return false;
    if (!save_preset(r, e))
        return false;
    for (uint32_t t = 0; t < r->options.ins; ++t)
        for (uint32_t part = 0; part < parts; ++part)
            if (!sound_keep(&r->sound[(size_t)2 * t + part], e))
                return false;
    preset_bundle_keep(&r->preset);
    return true;
}

/* ---- Telling ---- */

static void print_reports(const Run *r)
{
    const uint32_t group = group_size(r);
    for (uint32_t t = 0; t < r->options.ins; t += group) {
        if (t)
            fputs("\n----\n\n", r->out);
        report_print(&(Report){.voice = voice_of_group(r, t / group),
                               .voice_heard = !r->options.voice,
                               .check = &r->check[t / group],
                               .apart = r->options.apart,
                               .is_float = r->options.is_float,
                               .stage = &r->result[(size_t)(t / group) * r->options.stages],
                               .stages = r->options.stages,
                               .take = &r->take[t],
                               .takes = group},
                     r->out);
    }
}

static void warn_of_clipping(const Run *r)
{
    for (uint32_t t = 0; t < r->options.ins; ++t)
        if (r->take[t].over[0] + r->take[t].over[1])
            fprintf(r->err, "render: %s: the mix is over full scale and was clipped; see the table\n", r->take[t].name);
}

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

static void list_all(const Run *r)
{
    fputs("voices:\n", r->out);
    for (uint32_t v = 0; host_voice_at(r->host, v); ++v)
        fprintf(r->out, "    %s\n", host_voice_at(r->host, v));
    for (uint32_t i = 0; i < host_plugins(r->host); ++i) {
        const Plugin *plugin = host_plugin_at(r->host, i);
        if (!stem_is_new(r->host, i))
            continue;
        fprintf(r->out, "%s:\n", plugin->stem);
        for (uint32_t p = 0; p < plugin->ports; ++p)
            if (plugin->port[p].kind == PORT_CONTROL)
                list_port(r->out, &plugin->port[p]);
    }
}

/* ---- The whole ---- */

/* Frames over all passes: Check listens, each stage listens and mixes; reading and writing count too. */
static double all_passes(const Run *r, double frames)
{
    return frames * (3.0 + 2.0 * (double)r->options.stages);
}

static bool check_is_there(const Run *r, Error *e)
{
    return (host_plugin(r->host, "check", 1) && host_plugin(r->host, "check", 2)) ||
           error_set(e, ERROR_PLUGIN, "--advise: no plug-in \"check\" in this bundle");
}

/* The system's folder for files that do not last. */
static bool find_scratch(Run *r, Error *e)
{
    const char *folder = getenv("TMPDIR");
    r->folder = joined("", folder && *folder ? folder : "/tmp", strlen(folder && *folder ? folder : "/tmp"), "");
    return r->folder || no_memory(e);
}

/* What is found and what to do about it; nothing is written. */
static bool advise(Run *r, Error *e)
{
    const uint32_t group = group_size(r);
    double frames = 0.0;
    r->options.stages = 0;
    r->take = calloc(r->options.ins, sizeof *r->take);
    if (!r->take)
        return no_memory(e);
    if (!check_is_there(r, e) || !look_at_takes(r, &frames, e) || !find_scratch(r, e))
        return false;
    progress_start(&r->progress, 4.0 * frames); /* reading; Check, Tone and Esses listen */
    const bool ok = read_takes(r, e) && check_groups(r, e) && ask_tone_and_esses(r, e);
    progress_end(&r->progress);
    for (uint32_t t = 0; ok && t < r->options.ins; t += group) {
        fputs(t ? "\n----\n\n" : "", r->out);
        report_print_heard(&r->take[t], group, &r->check[t / group], r->out);
        advice_print(&r->check[t / group], &r->tone[t / group], &r->esses[t / group], r->out);
    }
    return ok;
}

static bool render(Run *r, Error *e)
{
    double frames = 0.0;
    r->take = calloc(r->options.ins, sizeof *r->take);
    if (!r->take)
        return no_memory(e);
    if (!make_plan(r, e) || !look_at_takes(r, &frames, e) || !plan_outputs(r, e) ||
        (r->options.preset && !preset_bundle_plan(&r->preset, r->options.preset, e)) || !make_folder(r, e))
        return false;
    progress_start(&r->progress, all_passes(r, frames));
    const bool ok = read_takes(r, e) && check_groups(r, e) && run_chain(r, e) && write_takes(r, e);
    progress_end(&r->progress);
    if (ok)
        print_reports(r);
    if (ok && r->options.preset)
        fprintf(r->out, "%s: a preset \"%s\" of each plug-in, learned figures included\n", r->preset.folder,
                r->preset.label);
    return ok;
}

static void free_heard(Readings *heard, uint32_t groups)
{
    for (uint32_t i = 0; heard && i < groups; ++i)
        readings_free(&heard[i]);
    free(heard);
}

static void free_results(Run *r)
{
    const uint32_t group = group_size(r);
    const uint32_t results = r->result ? r->options.ins / group * r->options.stages : 0;
    for (uint32_t i = 0; i < results; ++i) {
        readings_free(&r->result[i].heard);
        free(r->result[i].state);
        for (uint32_t t = 0; r->result[i].effect && t < group; ++t)
            effect_free(&r->result[i].effect[t]);
        free(r->result[i].effect);
    }
    free(r->result);
    free_heard(r->check, r->options.ins);
    free_heard(r->tone, r->options.ins);
    free_heard(r->esses, r->options.ins);
}

static void run_free(Run *r)
{
    free_results(r);
    for (uint32_t i = 0; i < 2 * r->options.ins; ++i) {
        if (r->sound)
            sound_drop(&r->sound[i]);
        if (r->path)
            free(r->path[i]);
        if (r->take)
            spool_free(r->take[i / 2].part[i % 2]);
    }
    for (uint32_t t = 0; r->take && t < r->options.ins; ++t)
        spool_free(r->take[t].audio);
    preset_bundle_free(&r->preset);
    if (r->made_folder)
        rmdir(r->folder); /* stays where something was written */
    free(r->sound);
    free(r->path);
    free(r->take);
    free(r->plan);
    free(r->folder);
    host_close(r->host);
    options_free(&r->options);
}

int render_run(int argc, char **argv, FILE *out, FILE *err)
{
    Error e = {0};
    Run r = {.out = out, .err = err};
    bool ok = options_read(&r.options, argc, argv, &e);
    if (ok && r.options.help) {
        options_help(out);
    } else if (ok && (ok = open_host(&r, &e))) {
        if (r.options.list)
            list_all(&r);
        else if (r.options.advise)
            ok = advise(&r, &e);
        else if ((ok = render(&r, &e)))
            warn_of_clipping(&r);
    }
    if (!ok)
        fprintf(err, "render: %s\n", e.text);
    run_free(&r);
    return ok ? 0 : (int)e.status;
}
