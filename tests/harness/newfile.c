#define _XOPEN_SOURCE 700 /* realpath(). NOLINT(bugprone-reserved-identifier,cert-dcl37-c,cert-dcl51-cpp): glibc's */

#include "newfile.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { MOST_LINKS = 40 /* one after the other, as Linux has it */ };

/* ---- Names ---- */

/* Characters of a path up to its last name: 0 for "mix.wav", 6 for "mixes/a.wav". */
static size_t folder_length(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? (size_t)(slash - path) + 1 : 0;
}

static char *from_the_root(const char *path)
{
    char folder[PATH_MAX];
    const size_t length = folder_length(path);
    const char *name = path + length;
    if (!*name || !strcmp(name, ".") || !strcmp(name, "..")) {
        errno = EISDIR;
        return NULL;
    }
    snprintf(folder, sizeof folder, "%.*s", length ? (int)length : 1, length ? path : ".");
    char *real = realpath(folder, NULL);
    if (!real)
        return NULL;
    const size_t size = strlen(real) + strlen(name) + 2;
    char *target = malloc(size);
    if (target)
        snprintf(target, size, "%s%s%s", real, real[1] ? "/" : "", name);
    free(real);
    return target;
}

/* Puts in the link's place what it names, seen from the link's folder. false: too long. */
static bool follow(char *path, size_t size, const char *link)
{
    char next[PATH_MAX];
    const size_t folder = *link == '/' ? 0 : folder_length(path);
    const int length = snprintf(next, sizeof next, "%.*s%s", (int)folder, path, link);
    if (length < 0 || (size_t)length >= size)
        return false;
    memcpy(path, next, (size_t)length + 1);
    return true;
}

char *path_target(const char *name)
{
    char path[PATH_MAX], link[PATH_MAX];
    errno = ENAMETOOLONG;
    const size_t size = strlen(name) + 1;
    if (size > sizeof path)
        return NULL;
    memcpy(path, name, size);
    for (int links = 0; links < MOST_LINKS; ++links) {
        const ssize_t length = readlink(path, link, sizeof link - 1);
        if (length < 0)
            return from_the_root(path);
        link[length] = '\0';
        errno = ENAMETOOLONG;
        if (!follow(path, sizeof path, link))
            return NULL;
    }
    errno = ELOOP;
    return NULL;
}

bool same_file(const char *a, const char *b)
{
    struct stat x, y;
    return !stat(a, &x) && !stat(b, &y) && x.st_dev == y.st_dev && x.st_ino == y.st_ino;
}

bool is_folder(const char *path)
{
    struct stat st;
    return !stat(path, &st) && S_ISDIR(st.st_mode);
}

mode_t usual_mode(mode_t all)
{
    const mode_t mask = umask(0);
    umask(mask);
    return all & ~mask;
}

/* ---- Looking ---- */

static bool cannot_write(const NewFile *f, const char *why, Error *e)
{
    return error_set(e, ERROR_WRITE, "%s: cannot write: %s", f->name, why);
}

static bool no_memory(Error *e)
{
    return error_set(e, ERROR_INSIDE, "out of memory");
}

/* Permission bits count for whoever runs this, root too: a file that was protected was protected on purpose. */
static bool look_at_target(NewFile *f, Error *e)
{
    struct stat st;
    f->mode = usual_mode(0666);
    if (lstat(f->target, &st))
        return errno == ENOENT || cannot_write(f, strerror(errno), e);
    if (!S_ISREG(st.st_mode))
        return cannot_write(f, "not a plain file", e);
    f->there = true;
    f->mode = st.st_mode & 07777;
    f->owner = st.st_uid;
    f->group = st.st_gid;
    return (st.st_mode & 0222) || cannot_write(f, "it is write-protected", e);
}

static bool look_at_folder(const NewFile *f, Error *e)
{
    char folder[PATH_MAX];
    snprintf(folder, sizeof folder, "%.*s", (int)folder_length(f->target), f->target);
    return !access(folder, W_OK | X_OK) || cannot_write(f, strerror(errno), e);
}

static bool no_target(const NewFile *f, int why, Error *e)
{
    char folder[PATH_MAX];
    snprintf(folder, sizeof folder, "%.*s", (int)folder_length(f->name), f->name);
    if (why == ENOENT && *folder && !is_folder(folder))
        return error_set(e, ERROR_WRITE, "%s: its folder is not there; make it first: mkdir -p '%s'", f->name, folder);
    return cannot_write(f, why == EISDIR ? "a folder" : strerror(why), e);
}

bool newfile_look(NewFile *f, const char *name, Error *e)
{
    const size_t size = strlen(name) + 1;
    *f = (NewFile){.name = malloc(size)};
    if (!f->name)
        return no_memory(e);
    memcpy(f->name, name, size);
    f->target = path_target(name);
    if (!f->target)
        return no_target(f, errno, e);
    return look_at_target(f, e) && look_at_folder(f, e);
}

/* ---- Writing ---- */

/* A hidden name in the target's folder: renaming then stays within one file system. */
static char *temporary_name(const char *target)
{
    static const char mark[] = NEWFILE_HIDDEN;
    const size_t folder = folder_length(target);
    char *name = malloc(folder + sizeof mark);
    if (name) {
        memcpy(name, target, folder);
        memcpy(name + folder, mark, sizeof mark);
    }
    return name;
}

/* mkstemp() makes files for the owner alone. What replaces a file gets its permissions, and its owner where it may. */
static void set_mode(const NewFile *f, int handle)
{
    if (f->there && fchown(handle, f->owner, f->group))
        errno = 0; /* only root gives files away: then the new one is ours */
    fchmod(handle, f->mode & 0777);
}

int newfile_open(NewFile *f, Error *e)
{
    f->temporary = temporary_name(f->target);
    if (!f->temporary) {
        no_memory(e);
        return -1;
    }
    const int handle = mkstemp(f->temporary);
    if (handle < 0) {
        cannot_write(f, strerror(errno), e);
        free(f->temporary);
        f->temporary = NULL;
        return -1;
    }
    set_mode(f, handle);
    return handle;
}

bool newfile_claim(NewFile *f, Error *e)
{
    if (f->there)
        return true;
    const int handle = open(f->target, O_WRONLY | O_CREAT | O_EXCL, 0600);
    if (handle < 0)
        return cannot_write(f, errno == EEXIST ? "meanwhile a file of this name has come" : strerror(errno), e);
    close(handle);
    f->claimed = true;
    return true;
}

bool newfile_keep(NewFile *f, Error *e)
{
    if (rename(f->temporary, f->target))
        return cannot_write(f, strerror(errno), e);
    free(f->temporary);
    f->temporary = NULL;
    f->claimed = false;
    return true;
}

void newfile_drop(NewFile *f)
{
    if (f->temporary)
        unlink(f->temporary);
    if (f->claimed)
        unlink(f->target);
    free(f->temporary);
    free(f->target);
    free(f->name);
    *f = (NewFile){0};
}
