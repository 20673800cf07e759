#define _DEFAULT_SOURCE /* flock(). NOLINT(bugprone-reserved-identifier,cert-dcl37-c,cert-dcl51-cpp): glibc's */

#include "leftovers.h"

#include "newfile.h"
#include "retype.h"

#include <dirent.h>
#include <fcntl.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

/* ".render-XXXXXX", a plain file: newfile.c's own. */
static int is_left(int folder, const char *name)
{
    struct stat st;
    return strlen(name) == sizeof NEWFILE_HIDDEN - 1 &&
           !strncmp(name, NEWFILE_HIDDEN, sizeof NEWFILE_HIDDEN - 1 - NEWFILE_RANDOM) &&
           !fstatat(folder, name, &st, AT_SYMLINK_NOFOLLOW) && S_ISREG(st.st_mode);
}

static void find(Leftovers *l, const char *folder)
{
    DIR *d = opendir(folder);
    for (struct dirent *entry; d && (entry = readdir(d));) {
        if (!is_left(l->lock, entry->d_name))
            continue;
        if (l->files < LEFTOVERS_NAMED)
            snprintf(l->name[l->files], sizeof l->name[0], "%.15s", entry->d_name);
        ++l->files;
    }
    if (d)
        closedir(d);
}

/* Another run may be looking just now; that takes it a moment. */
static void share(int lock)
{
    const struct timespec moment = {.tv_nsec = 10000000};
    for (int tries = 0; tries < 20 && flock(lock, LOCK_SH | LOCK_NB); ++tries)
        nanosleep(&moment, NULL);
}

void leftovers_look(Leftovers *l, const char *folder)
{
    *l = (Leftovers){0};
    const int lock = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (lock <= 0)
        return;
    l->lock = lock;
    if (!flock(lock, LOCK_EX | LOCK_NB))
        find(l, folder);
    share(lock);
}

void leftovers_tell(const Leftovers *l, const char *folder, FILE *to)
{
    if (!l->files)
        return;
    fprintf(to, "render: %u hidden %s left there by a run that was killed; to take %s away, type: rm",
            (unsigned)l->files, l->files == 1 ? "file was" : "files were", l->files == 1 ? "it" : "them");
    for (uint32_t k = 0; k < l->files && k < LEFTOVERS_NAMED; ++k) {
        char path[4400];
        snprintf(path, sizeof path, "%s/%s", folder, l->name[k]);
        fputc(' ', to);
        retype_word(path, to);
    }
    fputs(l->files > LEFTOVERS_NAMED ? " and so on\n" : "\n", to);
}

void leftovers_free(Leftovers *l)
{
    if (l->lock > 0)
        close(l->lock);
    l->lock = 0;
}
