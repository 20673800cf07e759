#include "saved.h"

#include "near.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

static bool home(char *path, size_t size, Error *e)
{
    const char *folder = getenv("HOME");
    if (!folder || !*folder)
        return error_set(e, ERROR_WRITE, "no HOME is set, so there is no ~/.lv2");
    const int length = snprintf(path, size, "%s/.lv2", folder);
    return (length > 0 && length < (int)size) || error_set(e, ERROR_WRITE, "%s: too long a name", folder);
}

bool saved_home(const char *name, char *path, size_t size, Error *e)
{
    char folder[3000];
    if (strchr(name, '/'))
        return error_set(e, ERROR_USAGE,
                         "--install-preset puts the preset into ~/.lv2: name it without folders, not %s", name);
    if (!home(folder, sizeof folder, e))
        return false;
    const int length = snprintf(path, size, "%s/%s", folder, name);
    return (length > 0 && length < (int)size) || error_set(e, ERROR_WRITE, "%s: too long a name", name);
}

bool saved_make_home(Error *e)
{
    char folder[3000];
    if (!home(folder, sizeof folder, e))
        return false;
    return !mkdir(folder, 0777) || errno == EEXIST ||
           error_set(e, ERROR_WRITE, "%s: this folder cannot be made: %s", folder, strerror(errno));
}

static bool is_bundle(const char *path)
{
    char manifest[4200];
    struct stat st;
    const int length = snprintf(manifest, sizeof manifest, "%s/manifest.ttl", path);
    return length > 0 && length < (int)sizeof manifest && !stat(manifest, &st);
}

/* The saved preset in a folder whose name may be meant, without its ending. false: none. */
static bool find_near(const char *folder, const char *name, char *meant, size_t size)
{
    bool found = false;
    DIR *d = opendir(folder);
    for (struct dirent *entry; d && !found && (entry = readdir(d));) {
        char path[4200];
        const char *dot = strrchr(entry->d_name, '.');
        if (!dot || strcmp(dot, ".lv2") != 0)
            continue;
        snprintf(meant, size, "%.*s", (int)(dot - entry->d_name), entry->d_name);
        snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        found = is_bundle(path) && near_enough(name, meant);
    }
    if (d)
        closedir(d);
    return found;
}

static bool not_found(const char *name, const char *user, Error *e)
{
    char meant[NEAR_LONGEST + 1], folder[3000];
    snprintf(folder, sizeof folder, "%s/.lv2", user ? user : "");
    const bool near =
        find_near(".", name, meant, sizeof meant) || (user && find_near(folder, name, meant, sizeof meant));
    return error_set(e, ERROR_FILE, "--from-preset: no preset \"%s\": there is no %s.lv2 here, nor in ~/.lv2%s%s%s",
                     name, name, near ? "; did you mean " : "", near ? meant : "", near ? "?" : "");
}

bool saved_find(const char *name, char *path, size_t size, Error *e)
{
    const char *user = getenv("HOME");
    const char *const from[] = {"", "", user ? user : "", user ? user : ""};
    static const char *const folder[] = {"", "", "/.lv2/", "/.lv2/"}, *const ending[] = {"", ".lv2", "", ".lv2"};
    for (size_t i = 0; i < sizeof from / sizeof *from; ++i) {
        const int length = snprintf(path, size, "%s%s%s%s", from[i], folder[i], name, ending[i]);
        if (length > 0 && length < (int)size && is_bundle(path))
            return true;
    }
    return not_found(name, user, e);
}

bool saved_holds(const char *folder, const char *plugin)
{
    char path[4300];
    struct stat st;
    const int length = snprintf(path, sizeof path, "%s/%s.ttl", folder, plugin);
    return length > 0 && length < (int)sizeof path && !stat(path, &st);
}
