#include "outputs.h"

#include "asked.h"
#include "names.h"
#include "ours.h"
#include "pattern.h"
#include "retype.h"

#include <errno.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

/* ---- The files ---- */

static bool no_memory(Error *e)
{
    return error_set(e, ERROR_INSIDE, "out of memory");
}

/* What render did not write may be a recording: --replace would write over it. The index is the file's. */
static bool not_ours(const Outputs *o, uint32_t index, const Options *options, Error *e)
{
    char line[RETYPED] = "", name[PATH_MAX], stem[PATH_MAX];
    const char *there = o->file[index].name, *typed = "";
    if (!index && !options->apart && !asked_folder(options)) {
        snprintf(stem, sizeof stem, "%.*s", (int)name_stem(there), there);
        free_name(name, sizeof name, stem, ".wav");
        retype(line, options, (Change){.out = name});
        typed = "; type: ";
    }
    return error_set(
        e, ERROR_WRITE,
        "%s is there already, and as render did not write it, it is never replaced: it may be a recording. "
        "Move it away, or take another name%s%s",
        there, typed, line);
}

static bool check_file(const Outputs *o, uint32_t index, const Options *options, Error *e)
{
    char line[RETYPED];
    const NewFile *f = &o->file[index];
    if (asked_take_at(options, f->target))
        return asked_over_take(options, f->name, e);
    for (uint32_t i = 0; i < index; ++i)
        if (o->file[i].target && !strcmp(o->file[i].target, f->target))
            return error_set(e, ERROR_USAGE, "%s and %s would be one file", o->file[i].name, f->name);
    if (!f->there)
        return true;
    if (!ours_is(f->target))
        return not_ours(o, index, options, e);
    if (options->replace)
        return true;
    retype(line, options, (Change){.replace = true});
    return error_set(e, ERROR_WRITE, "%s is there already. Take another name; or, to replace it, type: %s", f->name,
                     line);
}

/* Two takes of one name, as verse/1.wav and chorus/1.wav. */
static bool check_name(const Outputs *o, uint32_t index, const Options *options, Error *e)
{
    for (uint32_t i = 0; i < index; ++i)
        if (o->file[i].name && !strcmp(o->file[i].name, o->file[index].name))
            return error_set(e, ERROR_USAGE, "%s and %s would both become %s: %s", options->in[i / 2],
                             options->in[index / 2], o->file[index].name,
                             !options->pattern                    ? "add --name '{number}-{take}'"
                             : strstr(options->pattern, "{take}") ? "put {number} into --name"
                                                                  : "put {take} or {number} into --name");
    return true;
}

/* What goes into a folder that is still to be made. */
static bool name_alone(NewFile *f, const char *name, Error *e)
{
    f->name = strdup(name);
    return f->name || no_memory(e);
}

/* What is written for a take: its result's name with this ending. */
static bool name_result(char name[PATH_MAX], uint32_t take, const char *ending, const Options *options, Error *e)
{
    char by_pattern[PATH_MAX];
    const char *out = options->out, *from = asked_folder(options) ? name_base(options->in[take]) : out;
    const char *slash = !asked_folder(options) || out[strlen(out) - 1] == '/' ? "" : "/";
    if (options->pattern && !pattern_name(by_pattern, sizeof by_pattern, options, take, e))
        return false;
    const int stem = options->pattern ? (int)strlen(by_pattern) : (int)name_stem(from);
    const int length = snprintf(name, PATH_MAX, "%s%s%.*s%s", asked_folder(options) ? out : "", slash, stem,
                                options->pattern ? by_pattern : from, ending);
    return (length >= 0 && length < PATH_MAX) || error_set(e, ERROR_WRITE, "%s: too long a name", out);
}

/* Names it; looks what is there, where its folder is. */
static bool plan_file(Outputs *o, uint32_t index, const char *ending, const Options *options, Error *e)
{
    char name[PATH_MAX];
    if (!name_result(name, index / 2, ending, options, e))
        return false;
    if (!o->to_make)
        return newfile_look(&o->file[index], name, e) && check_name(o, index, options, e) &&
               check_file(o, index, options, e);
    return name_alone(&o->file[index], name, e) && check_name(o, index, options, e);
}

static bool plan_files(Outputs *o, const Options *options, Error *e)
{
    for (uint32_t t = 0; t < options->ins; ++t) {
        if (!plan_file(o, 2 * t, options->apart ? "-voice.wav" : ".wav", options, e) ||
            (options->apart && !plan_file(o, 2 * t + 1, "-ambience.wav", options, e)))
            return false;
    }
    return true;
}

/* ---- Their folder ---- */

/* What is in front of the last slash; "/" at the end of a folder's name does not count. */
static void folder_of(char *folder, size_t size, const char *path)
{
    const char *slash = strrchr(path, '/');
    const size_t length = slash ? (size_t)(slash - path) : 0;
    snprintf(folder, size, "%.*s", length ? (int)length : 1, length ? path : slash ? "/" : ".");
}

static bool cannot_make(const char *folder, const char *why, Error *e)
{
    return error_set(e, ERROR_WRITE, "%s: this folder cannot be made: %s", folder, why);
}

/* A folder to come: where a link leads, and whether it can be made there. */
static bool plan_new_folder(Outputs *o, const char *out, Error *e)
{
    char path[PATH_MAX], parent[PATH_MAX];
    name_without_slashes(path, sizeof path, out);
    o->to_make = true;
    o->folder = path_target(path);
    if (!o->folder && errno == ENOENT) {
        folder_of(parent, sizeof parent, path);
        return error_set(e, ERROR_WRITE,
                         "%s: this folder cannot be made: %s is not there; make it first: mkdir -p '%s'", path, parent,
                         parent);
    }
    if (!o->folder)
        return cannot_make(path, strerror(errno), e);
    folder_of(parent, sizeof parent, o->folder);
    return !access(parent, W_OK | X_OK) || cannot_make(path, strerror(errno), e);
}

/* The folder of the first result: working copies lie where it is written, not where a link to it stands. */
static bool note_folder(Outputs *o, Error *e)
{
    char folder[PATH_MAX];
    const char *target = o->file[0].target;
    folder_of(folder, sizeof folder, target ? target : "");
    o->folder = strdup(folder);
    return o->folder || no_memory(e);
}

/* ---- A report ---- */

NewFile *outputs_page(const Outputs *o)
{
    NewFile *f = &o->file[2 * (size_t)o->takes];
    return f->name ? f : NULL;
}

NewFile *outputs_audition(const Outputs *o, uint32_t take, uint32_t side)
{
    NewFile *f = &o->file[2 * o->takes + 1 + 2 * take + side];
    return f->name ? f : NULL;
}

/* The page's name goes first: the files beside it are named by it. */
static bool check_page(const Options *options, Error *e)
{
    char line[RETYPED], page[PATH_MAX], stem[PATH_MAX];
    const char *given = options->report, *ending = given + name_stem(given);
    const bool take = asked_take_at(options, given) != NULL,
               html = !strcasecmp(ending, ".html") || !strcasecmp(ending, ".htm");
    if (html && !take)
        return true;
    snprintf(stem, sizeof stem, "%.*s", html || name_is_audio(given) ? (int)name_stem(given) : (int)strlen(given),
             given);
    free_name(page, sizeof page, stem, ".html");
    retype(line, options, (Change){.report = page});
    return error_set(e, ERROR_USAGE, "%s: %s. Type: %s", given,
                     take ? "a take, and a take is never written over" : "the report is a page of HTML", line);
}

/* Does it lie in the folder that is to be made for the results, as it is written? */
static bool goes_to_new_folder(const Outputs *o, const Options *options, const char *name)
{
    char folder[PATH_MAX], out[PATH_MAX];
    folder_of(folder, sizeof folder, name);
    if (!o->to_make)
        return false;
    name_without_slashes(out, sizeof out, options->out);
    return !strcmp(folder, out);
}

/* As in check_file(), of what goes into a folder that is still to be made. */
static bool check_alone(const Outputs *o, uint32_t index, Error *e)
{
    for (uint32_t i = 0; i < index; ++i)
        if (o->file[i].name && !strcmp(o->file[i].name, o->file[index].name))
            return error_set(e, ERROR_USAGE,
                             "%s would be written twice: for two takes, or for one and what goes beside it",
                             o->file[i].name);
    return true;
}

static bool plan_beside(Outputs *o, uint32_t index, const char *name, const Options *options, Error *e)
{
    if (goes_to_new_folder(o, options, name))
        return name_alone(&o->file[index], name, e) && check_alone(o, index, e);
    return newfile_look(&o->file[index], name, e) && check_file(o, index, options, e);
}

/* "report-before.flac", or of several takes "report-verse-before.flac". */
static bool plan_audition(Outputs *o, uint32_t take, uint32_t side, const Options *options, Error *e)
{
    char name[PATH_MAX];
    const char *page = options->report, *from = options->ins > 1 ? name_base(options->in[take]) : "";
    const int length = snprintf(name, sizeof name, "%.*s%s%.*s-%s.flac", (int)name_stem(page), page, *from ? "-" : "",
                                (int)name_stem(from), from, side ? "after" : "before");
    if (length < 0 || length >= (int)sizeof name)
        return error_set(e, ERROR_WRITE, "%s: too long a name", page);
    return plan_beside(o, 2 * o->takes + 1 + 2 * take + side, name, options, e);
}

static bool plan_report(Outputs *o, const Options *options, Error *e)
{
    if (!options->report)
        return true;
    if (!check_page(options, e) || !plan_beside(o, 2 * o->takes, options->report, options, e))
        return false;
    for (uint32_t t = 0; t < o->takes && options->out && !options->report_audio; ++t)
        if (!plan_audition(o, t, 0, options, e) || !plan_audition(o, t, 1, options, e))
            return false;
    return true;
}

/* ---- What goes beside a result ---- */

NewFile *outputs_matched(const Outputs *o, uint32_t take)
{
    NewFile *f = &o->file[4 * o->takes + 1 + take];
    return f->name ? f : NULL;
}

NewFile *outputs_sheet(const Outputs *o, uint32_t take)
{
    NewFile *f = &o->file[5 * o->takes + 1 + take];
    return f->name ? f : NULL;
}

static bool plan_companion(Outputs *o, uint32_t index, uint32_t take, const char *ending, const Options *options,
                           Error *e)
{
    char name[PATH_MAX];
    return name_result(name, take, ending, options, e) && plan_beside(o, index, name, options, e);
}

static bool plan_companions(Outputs *o, const Options *options, Error *e)
{
    for (uint32_t t = 0; t < o->takes; ++t)
        if ((options->matched && !plan_companion(o, 4 * o->takes + 1 + t, t, "-before.wav", options, e)) ||
            (options->sheet && !plan_companion(o, 5 * o->takes + 1 + t, t, ".txt", options, e)))
            return false;
    return true;
}

/* ---- All of them ---- */

static bool make_room(Outputs *o, const Options *options, Error *e)
{
    *o = (Outputs){.files = 6 * options->ins + 1, .takes = options->ins};
    o->file = calloc(o->files, sizeof *o->file);
    return o->file || no_memory(e);
}

bool outputs_plan_page(Outputs *o, const Options *options, Error *e)
{
    return make_room(o, options, e) && asked_check_takes(options, e) && plan_report(o, options, e);
}

bool outputs_plan(Outputs *o, const Options *options, Error *e)
{
    if (!make_room(o, options, e) || !asked_check(options, e))
        return false;
    if (asked_folder(options) && !name_is_there(options->out) && !plan_new_folder(o, options->out, e))
        return false;
    return plan_files(o, options, e) && plan_report(o, options, e) && plan_companions(o, options, e) &&
           (o->folder || note_folder(o, e));
}

bool outputs_make_folder(Outputs *o, Error *e)
{
    if (!o->to_make)
        return true;
    o->made = !mkdir(o->folder, 0777);
    if (!o->made)
        return cannot_make(o->folder, strerror(errno), e);
    for (uint32_t i = 0; i < o->files; ++i) {
        char *name = o->file[i].target ? NULL : o->file[i].name;
        const bool ok = !name || newfile_look(&o->file[i], name, e);
        free(name);
        if (!ok)
            return false;
    }
    return true;
}

/* ---- A preset bundle beside them ---- */

/* Is a path the folder, or in it? */
static bool lies_in(const char *path, const char *folder)
{
    const size_t length = strlen(folder);
    return !strncmp(path, folder, length) && (path[length] == '/' || !path[length]);
}

static bool preset_in_the_way(const PresetBundle *b, const char *what, Error *e)
{
    return error_set(e, ERROR_USAGE, "--save-preset: %s is a folder of its own, and %s would lie there too", b->folder,
                     what);
}

bool outputs_plan_preset(const Outputs *o, const PresetBundle *b, const Options *options, Error *e)
{
    char line[RETYPED];
    if (o->to_make && lies_in(b->target, o->folder))
        return preset_in_the_way(b, options->out, e);
    for (uint32_t i = 0; i < o->files; ++i)
        if (o->file[i].target && lies_in(o->file[i].target, b->target))
            return preset_in_the_way(b, o->file[i].name, e);
    if (!b->there)
        return true;
    if (options->replace)
        return preset_bundle_is_plain(b, options->in, options->ins + (options->like != NULL), e);
    retype(line, options, (Change){.replace = true});
    return error_set(e, ERROR_WRITE, "%s is there already. Take another name; or, to replace it, type: %s", b->folder,
                     line);
}

/* ---- At the end ---- */

bool outputs_keep(Outputs *o, Error *e)
{
    for (uint32_t i = 0; i < o->files; ++i)
        if (o->file[i].name && !newfile_claim(&o->file[i], e))
            return false;
    for (uint32_t i = 0; i < o->files; ++i)
        if (o->file[i].name && !newfile_keep(&o->file[i], e))
            return false;
    return true;
}

void outputs_free(Outputs *o)
{
    for (uint32_t i = 0; o->file && i < o->files; ++i)
        newfile_drop(&o->file[i]);
    if (o->made)
        rmdir(o->folder); /* stays where something was written */
    free(o->file);
    free(o->folder);
    *o = (Outputs){0};
}
