#include "rendering.h"

#include "advice.h"
#include "options.h"
#include "outputs.h"
#include "preset.h"
#include "report.h"
#include "soundfile.h"
#include "source.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
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
    StagePlan *plan;     /* one a stage */
    Take *take;          /* one an IN */
    Outputs outputs;     /* the files to write */
    const char *folder;  /* where working copies lie */
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

static bool open_take(const Take *t, SoundIn *s, Error *e)
{
    return sound_open(s, t->path, t->piped ? t->copy : -1, e);
}

/* A pipe can be read only once. */
static bool copy_pipe(const Run *r, Take *t, Error *e)
{
    if (!source_is_pipe(t->path))
        return true;
    t->copy = source_copy_pipe(t->path, r->folder, e);
    t->piped = t->copy >= 0;
    return t->piped;
}

/* Looks at every take before any is read: a wrong name among ten shows at once. */
static bool look_at_takes(Run *r, double *frames, Error *e)
{
    for (uint32_t t = 0; t < r->options.ins; ++t) {
        SoundIn s;
        r->take[t].path = r->options.in[t];
        if (!copy_pipe(r, &r->take[t], e) || !open_take(&r->take[t], &s, e))
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
        if (!open_take(&r->take[t], &s, e))
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
        ok = mix_take(r, stage, &take[t], result->state, &result->effect[t], e) &&
             (result->learned || readings_add(&result->heard, &result->effect[t].readings, e));
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

/* Of takes that learn together: in which of them is no voice, where there is one in the others? */
static bool check_each(Run *r, const StagePlan *plan, Error *e)
{
    bool any = false;
    for (uint32_t t = 0; t < r->options.ins; ++t) {
        Readings alone = {0};
        const bool ok = hear_group(r, plan, &r->take[t], 1, &alone, e);
        r->take[t].voiceless = report_voiceless(&alone);
        any |= !r->take[t].voiceless;
        readings_free(&alone);
        if (!ok)
            return false;
    }
    for (uint32_t t = 0; t < r->options.ins; ++t)
        r->take[t].voiceless &= any || report_voiceless(r->check);
    return true;
}

static bool check_groups(Run *r, Error *e)
{
    const StagePlan plan = {.host = r->host, .name = "check", .silence = CHECK_SILENCE};
    if (!hear_groups(r, &plan, &r->check, e))
        return false;
    if (group_size(r) > 1)
        return check_each(r, &plan, e);
    for (uint32_t t = 0; t < r->options.ins; ++t)
        r->take[t].voiceless = report_voiceless(&r->check[t]);
    return true;
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

static bool write_sound(Run *r, SoundOut *s, NewFile *file, const Take *t, Spool *from, Error *e)
{
    const int handle = newfile_open(file, e);
    return handle >= 0 &&
           sound_create(s, handle, file->name, t->rate, spool_channels(from), spool_frames(from), r->options.is_float,
                        e) &&
           spool_rewind(from, e) && copy_out(r, s, from, t->name, e) && sound_finish(s, e);
}

static bool write_one(Run *r, uint32_t take, uint32_t part, Error *e)
{
    Take *t = &r->take[take];
    SoundOut s = {0};
    NewFile *file = &r->outputs.file[(size_t)2 * take + part];
    const bool ok = write_sound(r, &s, file, t, r->options.apart ? t->part[part] : t->audio, e);
    t->out[part] = file->name;
    t->over[part] = s.over;
    sound_drop(&s);
    return ok;
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
    return save_preset(r, e) && preset_bundle_keep(&r->preset, e) && outputs_keep(&r->outputs, e);
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

/* The exit status: a take without a voice has its own. */
static ErrorStatus warn_of_silence(const Run *r)
{
    ErrorStatus status = ERROR_NONE;
    for (uint32_t t = 0; t < r->options.ins; ++t) {
        if (!r->take[t].voiceless)
            continue;
        fprintf(r->err, "render: %s: no voice was heard in it, and nothing was learned from it\n", r->take[t].name);
        status = ERROR_NO_VOICE;
    }
    return status;
}

/* A table that was lost is told, and where the result is. */
static bool table_is_out(const Run *r, Error *e)
{
    errno = 0;
    if (!fflush(r->out) && !ferror(r->out))
        return true;
    const char *out = r->take && r->take[0].out[0] ? r->options.out : NULL;
    return error_set(e, ERROR_WRITE, "the table cannot be written: %s%s%s", strerror(errno ? errno : EIO),
                     out ? "; the result is written: " : "", out ? out : "");
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
    return frames * (3.0 + (group_size(r) > 1 ? 1.0 : 0.0) + 2.0 * (double)r->options.stages);
}

static bool check_is_there(const Run *r, Error *e)
{
    return (host_plugin(r->host, "check", 1) && host_plugin(r->host, "check", 2)) ||
           error_set(e, ERROR_PLUGIN, "--advise: no plug-in \"check\" in this bundle");
}

/* The system's folder for files that do not last. */
static const char *scratch_folder(void)
{
    const char *folder = getenv("TMPDIR");
    return folder && *folder ? folder : "/tmp";
}

static void print_advice(const Run *r, uint32_t take)
{
    const uint32_t group = group_size(r), g = take / group;
    fputs(take ? "\n----\n\n" : "", r->out);
    report_print_heard(&r->take[take], group, &r->check[g], r->out);
    if (!report_voiceless(&r->check[g]))
        advice_print(&r->check[g], &r->tone[g], &r->esses[g], r->out);
}

/* What is found and what to do about it; nothing is written. */
static bool advise(Run *r, Error *e)
{
    double frames = 0.0;
    r->options.stages = 0;
    r->folder = scratch_folder();
    for (uint32_t t = 0; t < r->options.ins; ++t)
        if (!source_check(r->options.in[t], e))
            return false;
    if (!open_host(r, e) || !check_is_there(r, e) || !look_at_takes(r, &frames, e))
        return false;
    progress_start(&r->progress, 5.0 * frames); /* reading; Check, Tone and Esses listen, Check perhaps to each alone */
    const bool ok = read_takes(r, e) && check_groups(r, e) && ask_tone_and_esses(r, e);
    progress_end(&r->progress);
    for (uint32_t t = 0; ok && t < r->options.ins; t += group_size(r))
        print_advice(r, t);
    return ok;
}

/* All that can be refused before a take is read. */
static bool plan_all(Run *r, Error *e)
{
    const char *preset = r->options.preset;
    return outputs_plan(&r->outputs, &r->options, e) &&
           (!preset || (preset_bundle_plan(&r->preset, preset, e) &&
                        outputs_plan_preset(&r->outputs, &r->preset, &r->options, e))) &&
           open_host(r, e) && make_plan(r, e);
}

static bool render(Run *r, Error *e)
{
    double frames = 0.0;
    if (!plan_all(r, e) || !outputs_make_folder(&r->outputs, e))
        return false;
    r->folder = r->outputs.folder;
    if (!look_at_takes(r, &frames, e))
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

static void free_takes(Run *r)
{
    for (uint32_t t = 0; r->take && t < r->options.ins; ++t) {
        spool_free(r->take[t].audio);
        spool_free(r->take[t].part[0]);
        spool_free(r->take[t].part[1]);
        if (r->take[t].piped)
            close(r->take[t].copy);
    }
    free(r->take);
}

static void run_free(Run *r)
{
    free_results(r);
    free_takes(r);
    preset_bundle_free(&r->preset);
    outputs_free(&r->outputs);
    free(r->plan);
    host_close(r->host);
    options_free(&r->options);
}

static bool run(Run *r, Error *e)
{
    if (r->options.help) {
        options_help(r->out);
        return true;
    }
    if (r->options.list) {
        const bool ok = open_host(r, e);
        if (ok)
            list_all(r);
        return ok;
    }
    r->take = calloc(r->options.ins, sizeof *r->take);
    if (!r->take)
        return no_memory(e);
    progress_catch_signals();
    return r->options.advise ? advise(r, e) : render(r, e);
}

int render_run(int argc, char **argv, FILE *out, FILE *err)
{
    Error e = {0};
    Run r = {.out = out, .err = err};
    const bool ok = options_read(&r.options, argc, argv, &e) && run(&r, &e) && table_is_out(&r, &e);
    if (ok && r.take) {
        warn_of_clipping(&r);
        e.status = warn_of_silence(&r);
    }
    if (!ok)
        fprintf(err, "render: %s\n", e.text);
    run_free(&r);
    return (int)e.status;
}
