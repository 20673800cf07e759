#include "outputs.h"

#include "retype.h"
#include "source.h"

#include <errno.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

/* ---- Names ---- */

static const char *base_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* "takes/lead.take 2.flac" -> 17 */
static size_t stem_length(const char *path)
{
    const char *name = base_name(path), *dot = strrchr(name, '.');
    return dot && dot != name ? (size_t)(dot - path) : strlen(path);
}

/* Does a name end as audio files do? */
static bool names_audio(const char *path)
{
    static const char *const endings[] = {".wav",  ".wave", ".flac", ".mp3", ".ogg",  ".opus", ".aif", ".aiff",
                                          ".aifc", ".m4a",  ".aac",  ".wma", ".rf64", ".w64",  ".caf", ".au"};
    const char *ending = path + stem_length(path);
    for (size_t i = 0; i < sizeof endings / sizeof *endings; ++i)
        if (!strcasecmp(ending, endings[i]))
            return true;
    return false;
}

static bool is_there(const char *path)
{
    struct stat st;
    return !stat(path, &st);
}

static bool is_plain(const char *path)
{
    struct stat st;
    return !stat(path, &st) && S_ISREG(st.st_mode);
}

/* A folder that nobody has yet: "mixes". */
static void free_folder(char *name, size_t size)
{
    free_name(name, size, "mixes", "");
}

/* Where a person may want the mix: beside its take; that of a pipe or of standard input, here. */
static void free_mix(char *name, size_t size, const char *take)
{
    char stem[PATH_MAX];
    if (!take || source_is_pipe(take) || !strncmp(take, "/dev/", 5))
        snprintf(stem, sizeof stem, "mix");
    else
        snprintf(stem, sizeof stem, "%.*s-mix", (int)stem_length(take), take);
    free_name(name, size, stem, ".wav");
}

static void free_out(char *name, size_t size, const Options *options)
{
    if (options->ins == 1)
        free_mix(name, size, options->in[0]);
    else
        free_folder(name, size);
}

/* ---- What is asked for ---- */

static bool wants_folder(const Options *options)
{
    const char *out = options->out;
    return options->ins > 1 || out[strlen(out) - 1] == '/' || is_folder(out);
}

/* Without -o the last name is a take, however much it is meant as the result. */
static bool no_out(const Options *options, Error *e)
{
    char line[RETYPED], out[PATH_MAX];
    const char *last = options->in[options->ins - 1];
    const bool one_left = options->ins == 2, free_file = !is_there(last) && names_audio(last);
    const bool meant = options->ins > 1 && (is_folder(last) || !is_there(last));
    if (meant && (!free_file || one_left)) {
        retype(line, options, (Change){.out = last, .without = last});
        return error_set(e, ERROR_USAGE, "%s is no take; if the result shall go there, type: %s", last, line);
    }
    if (meant)
        free_folder(out, sizeof out);
    else
        free_out(out, sizeof out, options);
    retype(line, options, (Change){.out = out, .without = meant ? last : NULL});
    return error_set(e, ERROR_USAGE, "where shall the result go? Every plain name is a take. Type: %s", line);
}

static bool check_takes(const Options *options, Error *e)
{
    char line[RETYPED];
    for (uint32_t t = 0; t < options->ins; ++t) {
        const char *path = options->in[t];
        if (!source_check(path, e))
            return false;
        for (uint32_t k = 0; k < t; ++k) {
            if (!same_file(path, options->in[k]))
                continue;
            retype(line, options, (Change){.without = path});
            return error_set(e, ERROR_USAGE, "%s and %s are the same take. Type: %s", options->in[k], path, line);
        }
    }
    return true;
}

/* The take that a path names, under whatever name; NULL: none. */
static const char *take_at(const Options *options, const char *path)
{
    for (uint32_t t = 0; t < options->ins; ++t)
        if (same_file(path, options->in[t]))
            return options->in[t];
    return NULL;
}

static bool would_replace_take(const Options *options, const char *path, Error *e)
{
    char line[RETYPED], out[PATH_MAX];
    free_out(out, sizeof out, options);
    retype(line, options, (Change){.out = out});
    return error_set(e, ERROR_USAGE, "%s is a take, and a take is never written over. Type: %s", path, line);
}

static void without_slashes(char *path, size_t size, const char *from)
{
    snprintf(path, size, "%s", from);
    for (size_t length = strlen(path); length > 1 && path[length - 1] == '/'; --length)
        path[length - 1] = '\0';
}

static bool check_folder(const Options *options, Error *e)
{
    char line[RETYPED], out[PATH_MAX], bare[PATH_MAX];
    without_slashes(bare, sizeof bare, options->out);
    const bool file = is_plain(bare), named_as_file = !is_there(bare) && names_audio(bare) && options->ins > 1;
    if (!file && !named_as_file)
        return true;
    free_out(out, sizeof out, options);
    retype(line, options, (Change){.out = out});
    return error_set(e, ERROR_USAGE, "%s: %s. Type: %s", options->out,
                     file ? "a file, not a folder" : "several takes become several files, in a folder", line);
}

static bool check_ending(const Options *options, Error *e)
{
    char line[RETYPED], out[PATH_MAX], stem[PATH_MAX];
    const char *given = options->out;
    const size_t length = stem_length(given);
    if (!strcasecmp(given + length, ".wav"))
        return true;
    snprintf(stem, sizeof stem, "%.*s", names_audio(given) ? (int)length : (int)strlen(given), given);
    free_name(out, sizeof out, stem, ".wav");
    retype(line, options, (Change){.out = out});
    return error_set(e, ERROR_USAGE, "%s: the result is a WAV. Type: %s", given, line);
}

static bool check_out(const Options *options, Error *e)
{
    if (!options->out)
        return no_out(options, e);
    if (!check_takes(options, e))
        return false;
    if (take_at(options, options->out))
        return would_replace_take(options, options->out, e);
    if (is_there(options->out) && !is_folder(options->out) && !is_plain(options->out))
        return error_set(e, ERROR_WRITE, "%s: cannot write: not a plain file", options->out);
    return wants_folder(options) ? check_folder(options, e) : check_ending(options, e);
}

/* ---- The files ---- */

static bool no_memory(Error *e)
{
    return error_set(e, ERROR_INSIDE, "out of memory");
}

static bool check_file(const Outputs *o, uint32_t index, const Options *options, Error *e)
{
    char line[RETYPED];
    const NewFile *f = &o->file[index];
    if (take_at(options, f->target))
        return would_replace_take(options, f->name, e);
    for (uint32_t i = 0; i < index; ++i)
        if (o->file[i].target && !strcmp(o->file[i].target, f->target))
            return error_set(e, ERROR_USAGE, "%s and %s would be one file", o->file[i].name, f->name);
    if (!f->there || options->replace)
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
            return error_set(e, ERROR_USAGE,
                             "%s and %s would both become %s: render one of them alone, to a name of its own",
                             options->in[i / 2], options->in[index / 2], o->file[index].name);
    return true;
}

/* Names it; looks what is there, where its folder is. */
static bool plan_file(Outputs *o, uint32_t index, const char *ending, const Options *options, Error *e)
{
    char name[PATH_MAX];
    const char *out = options->out, *from = wants_folder(options) ? base_name(options->in[index / 2]) : out;
    const char *slash = !wants_folder(options) || out[strlen(out) - 1] == '/' ? "" : "/";
    const int length = snprintf(name, sizeof name, "%s%s%.*s%s", wants_folder(options) ? out : "", slash,
                                (int)stem_length(from), from, ending);
    if (length < 0 || length >= (int)sizeof name)
        return error_set(e, ERROR_WRITE, "%s: too long a name", out);
    NewFile *f = &o->file[index];
    if (!o->to_make)
        return newfile_look(f, name, e) && check_name(o, index, options, e) && check_file(o, index, options, e);
    f->name = strdup(name);
    return f->name ? check_name(o, index, options, e) : no_memory(e);
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
    without_slashes(path, sizeof path, out);
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

bool outputs_plan(Outputs *o, const Options *options, Error *e)
{
    *o = (Outputs){.files = 2 * options->ins};
    o->file = calloc(o->files, sizeof *o->file);
    if (!o->file)
        return no_memory(e);
    if (!check_out(options, e))
        return false;
    if (wants_folder(options) && !is_there(options->out) && !plan_new_folder(o, options->out, e))
        return false;
    return plan_files(o, options, e) && (o->folder || note_folder(o, e));
}

bool outputs_make_folder(Outputs *o, Error *e)
{
    if (!o->to_make)
        return true;
    o->made = !mkdir(o->folder, 0777);
    if (!o->made)
        return cannot_make(o->folder, strerror(errno), e);
    for (uint32_t i = 0; i < o->files; ++i) {
        char *name = o->file[i].name;
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
        return preset_bundle_is_plain(b, options->in, options->ins, e);
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
