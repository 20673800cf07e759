#include "asked.h"

#include "names.h"
#include "newfile.h"
#include "retype.h"
#include "source.h"

#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

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
        snprintf(stem, sizeof stem, "%.*s-mix", (int)name_stem(take), take);
    free_name(name, size, stem, ".wav");
}

/* Are the results files of OUT, a folder, whatever it is called? */
static bool asked_several(const Options *options)
{
    return options->ins > 1 || options->pattern;
}

static void free_out(char *name, size_t size, const Options *options)
{
    if (!asked_several(options))
        free_mix(name, size, options->in[0]);
    else
        free_folder(name, size);
}

bool asked_folder(const Options *options)
{
    const char *out = options->out;
    return asked_several(options) || out[strlen(out) - 1] == '/' || is_folder(out);
}

/* "verse.wav o mix.wav": an -o without its dash, and what stands behind it. NULL: none. */
static const char *const *dashless(const Options *options)
{
    for (uint32_t t = 1; t + 1 < options->ins; ++t)
        if ((!strcmp(options->in[t], "o") || !strcmp(options->in[t], "out")) && !name_is_there(options->in[t]))
            return &options->in[t];
    return NULL;
}

static bool no_dash(const Options *options, const char *const *typed, Error *e)
{
    char line[RETYPED];
    retype(line, options, (Change){.out = typed[1], .without = typed[0], .besides = typed[1]});
    return error_set(e, ERROR_USAGE, "there is no take %s; with a dash it says where the result goes. Type: %s",
                     typed[0], line);
}

/* Without -o the last name is a take, however much it is meant as the result. */
static bool no_out(const Options *options, Error *e)
{
    char line[RETYPED], out[PATH_MAX];
    const char *const *typed = dashless(options);
    if (typed)
        return no_dash(options, typed, e);
    const char *last = options->in[options->ins - 1];
    const bool one_left = options->ins == 2, free_file = !name_is_there(last) && name_is_audio(last);
    const bool meant = options->ins > 1 && (is_folder(last) || !name_is_there(last));
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

bool asked_check_takes(const Options *options, Error *e)
{
    char line[RETYPED];
    for (uint32_t t = 0; t < options->ins; ++t) {
        const char *path = options->in[t];
        if (!source_check(path, e))
            return false;
        if (options->like && same_file(path, options->like))
            return error_set(e, ERROR_USAGE, "--like %s: that is the take itself", options->like);
        for (uint32_t k = 0; k < t; ++k) {
            if (!same_file(path, options->in[k]))
                continue;
            retype(line, options, (Change){.without = path});
            return error_set(e, ERROR_USAGE, "%s and %s are the same take. Type: %s", options->in[k], path, line);
        }
    }
    return true;
}

const char *asked_take_at(const Options *options, const char *path)
{
    for (uint32_t t = 0; t < options->ins; ++t)
        if (same_file(path, options->in[t]))
            return options->in[t];
    return options->like && same_file(path, options->like) ? options->like : NULL;
}

bool asked_over_take(const Options *options, const char *path, Error *e)
{
    char line[RETYPED], out[PATH_MAX];
    const bool like = options->like && same_file(path, options->like);
    free_out(out, sizeof out, options);
    retype(line, options, (Change){.out = out});
    return error_set(e, ERROR_USAGE, "%s is %s, and %s is never written over. Type: %s", path,
                     like ? "the vocal of --like" : "a take", like ? "it" : "a take", line);
}

static bool check_folder(const Options *options, Error *e)
{
    char line[RETYPED], out[PATH_MAX], bare[PATH_MAX];
    name_without_slashes(bare, sizeof bare, options->out);
    const bool file = is_plain(bare),
               named_as_file = !name_is_there(bare) && name_is_audio(bare) && asked_several(options);
    if (!file && !named_as_file)
        return true;
    free_out(out, sizeof out, options);
    retype(line, options, (Change){.out = out});
    return error_set(e, ERROR_USAGE, "%s: %s. Type: %s", options->out,
                     file               ? "a file, not a folder"
                     : options->pattern ? "--name names the files of a folder"
                                        : "several takes become several files, in a folder",
                     line);
}

static bool check_ending(const Options *options, Error *e)
{
    char line[RETYPED], out[PATH_MAX], stem[PATH_MAX];
    const char *given = options->out;
    const size_t length = name_stem(given);
    if (!strcasecmp(given + length, ".wav"))
        return true;
    snprintf(stem, sizeof stem, "%.*s", name_is_audio(given) ? (int)length : (int)strlen(given), given);
    free_name(out, sizeof out, stem, ".wav");
    retype(line, options, (Change){.out = out});
    return error_set(e, ERROR_USAGE, "%s: the result is a WAV. Type: %s", given, line);
}

bool asked_check(const Options *options, Error *e)
{
    if (!options->out)
        return no_out(options, e);
    if (!asked_check_takes(options, e) || (options->like && !source_check(options->like, e)))
        return false;
    if (asked_take_at(options, options->out))
        return asked_over_take(options, options->out, e);
    if (name_is_there(options->out) && !is_folder(options->out) && !is_plain(options->out))
        return error_set(e, ERROR_WRITE, "%s: cannot write: not a plain file", options->out);
    return asked_folder(options) ? check_folder(options, e) : check_ending(options, e);
}
