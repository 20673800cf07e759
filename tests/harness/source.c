#include "source.h"

#include "progress.h"
#include "spool.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { LOOK_AGAIN = 100 /* ms between two looks at a silent pipe */ };

static bool wrong_kind(const char *path, mode_t mode, Error *e)
{
    if (S_ISDIR(mode))
        return error_set(e, ERROR_FILE, "%s: a folder, not a take; name the files in it: %s%s*.wav", path, path,
                         path[strlen(path) - 1] == '/' ? "" : "/");
    return error_set(e, ERROR_FILE, "%s: a %s, not a take", path, S_ISSOCK(mode) ? "socket" : "device");
}

bool source_check(const char *path, Error *e)
{
    struct stat st;
    if (stat(path, &st) && !strcmp(path, "-"))
        return error_set(e, ERROR_FILE, "-: no such file; what comes through a pipe is named /dev/stdin");
    if (stat(path, &st))
        return error_set(e, ERROR_FILE, "%s: %s", path, errno == ENOENT ? "no such file" : strerror(errno));
    if (!S_ISREG(st.st_mode) && !S_ISFIFO(st.st_mode))
        return wrong_kind(path, st.st_mode, e);
    return !access(path, R_OK) || error_set(e, ERROR_FILE, "%s: %s", path, strerror(errno));
}

bool source_is_pipe(const char *path)
{
    struct stat st;
    return !stat(path, &st) && S_ISFIFO(st.st_mode);
}

/* ---- Pipes ---- */

static bool write_all(int to, const char *bytes, size_t size)
{
    while (size) {
        const ssize_t wrote = write(to, bytes, size);
        if (wrote < 0 && errno == EINTR)
            continue;
        if (wrote <= 0)
            return false;
        bytes += wrote;
        size -= (size_t)wrote;
    }
    return true;
}

/* While nobody has opened a pipe for writing, read() finds its end at once, and poll() finds nothing; when the last
 * writer has left, poll() tells. With a writer that is silent, read() would have to wait. */
static bool copy_all(int from, int to, const char *path, Error *e)
{
    char bytes[65536];
    bool came = false;
    for (double waited = 0.0; !progress_stopped(e);) {
        struct pollfd pipe = {.fd = from, .events = POLLIN};
        const int ready = poll(&pipe, 1, LOOK_AGAIN);
        const ssize_t got = read(from, bytes, sizeof bytes);
        if (got > 0 && !write_all(to, bytes, (size_t)got))
            return error_set(e, ERROR_WRITE, "%s: no room for a copy of the pipe: %s", path, strerror(errno));
        came |= got > 0 || (got < 0 && errno == EAGAIN);
        if (got == 0 && (came || (ready > 0 && (pipe.revents & POLLHUP))))
            return true;
        if (got < 0 && errno != EAGAIN && errno != EINTR)
            return error_set(e, ERROR_FILE, "%s: %s", path, strerror(errno));
        waited += came ? 0.0 : 1e-3 * LOOK_AGAIN;
        if (waited > SOURCE_PATIENCE)
            return error_set(e, ERROR_FILE, "%s: a pipe that nobody writes to", path);
    }
    return false;
}

int source_copy_pipe(const char *path, const char *folder, Error *e)
{
    const int from = open(path, O_RDONLY | O_NONBLOCK);
    if (from < 0) {
        error_set(e, ERROR_FILE, "%s: %s", path, strerror(errno));
        return -1;
    }
    const int to = spool_nameless(folder, e);
    const bool ok = to >= 0 && copy_all(from, to, path, e);
    close(from);
    if (ok && !lseek(to, 0, SEEK_SET))
        return to;
    if (to >= 0)
        close(to);
    return -1;
}
