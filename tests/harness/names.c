#include "names.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

const char *name_base(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* The part of the path, with one folder more. */
static const char *one_more(const char *path, const char *part)
{
    for (part -= part > path; part > path && part[-1] != '/';)
        --part;
    return part;
}

static bool ends_in(const char *path, const char *part)
{
    const size_t length = strlen(path), tail = strlen(part);
    return length >= tail && !strcmp(path + length - tail, part) && (length == tail || path[length - tail - 1] == '/');
}

const char *name_apart(const char *path, const char *const *all, size_t n)
{
    const char *part = name_base(path);
    for (size_t k = 0; k < n; ++k)
        while (all[k] != path && part > path && ends_in(all[k], part))
            part = one_more(path, part);
    return part;
}

size_t name_stem(const char *path)
{
    const char *name = name_base(path), *dot = strrchr(name, '.');
    return dot && dot != name ? (size_t)(dot - path) : strlen(path);
}

bool name_is_audio(const char *path)
{
    static const char *const endings[] = {".wav",  ".wave", ".flac", ".mp3", ".ogg",  ".opus", ".aif", ".aiff",
                                          ".aifc", ".m4a",  ".aac",  ".wma", ".rf64", ".w64",  ".caf", ".au"};
    const char *ending = path + name_stem(path);
    for (size_t i = 0; i < sizeof endings / sizeof *endings; ++i)
        if (!strcasecmp(ending, endings[i]))
            return true;
    return false;
}

bool name_is_there(const char *path)
{
    struct stat st;
    return !stat(path, &st);
}

void name_without_slashes(char *path, size_t size, const char *from)
{
    snprintf(path, size, "%s", from);
    for (size_t length = strlen(path); length > 1 && path[length - 1] == '/'; --length)
        path[length - 1] = '\0';
}
