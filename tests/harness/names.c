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
