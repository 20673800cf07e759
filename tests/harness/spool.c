#include "spool.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { SPOOL_BLOCK = 4096 /* frames at once */ };

struct Spool {
    FILE *file;
    double rate;
    uint32_t channels;
    uint64_t frames, at;
    float block[2 * SPOOL_BLOCK]; /* interleaved */
};

const char *spool_scratch(void)
{
    const char *folder = getenv("TMPDIR");
    return folder && *folder ? folder : "/tmp";
}

int spool_nameless(const char *folder, Error *e)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/.render-XXXXXX", folder);
    const int handle = mkstemp(path);
    if (handle < 0)
        error_set(e, ERROR_WRITE, "%s: cannot write here: %s", folder, strerror(errno));
    else
        unlink(path);
    return handle;
}

static FILE *open_nameless(const char *folder, Error *e)
{
    const int handle = spool_nameless(folder, e);
    if (handle < 0)
        return NULL;
    FILE *file = fdopen(handle, "w+b");
    if (!file) {
        close(handle);
        error_set(e, ERROR_INSIDE, "out of memory");
    }
    return file;
}

Spool *spool_new(const char *folder, double rate, uint32_t channels, Error *e)
{
    FILE *file = open_nameless(folder, e);
    if (!file)
        return NULL;
    Spool *s = malloc(sizeof *s);
    if (!s) {
        fclose(file);
        error_set(e, ERROR_INSIDE, "out of memory");
        return NULL;
    }
    *s = (Spool){.file = file, .rate = rate, .channels = channels};
    return s;
}

void spool_free(Spool *s)
{
    if (!s)
        return;
    fclose(s->file);
    free(s);
}

double spool_rate(const Spool *s)
{
    return s->rate;
}

uint32_t spool_channels(const Spool *s)
{
    return s->channels;
}

uint64_t spool_frames(const Spool *s)
{
    return s->frames;
}

static bool no_room(Error *e)
{
    return error_set(e, ERROR_WRITE, "no room for the working copy beside OUT: %s", strerror(errno));
}

/* m frames from `at` on, as they lie in the file: one channel is there as it is. */
static const float *put_together(Spool *s, const float *const *in, uint32_t at, uint32_t m)
{
    if (s->channels == 1)
        return in[0] + at;
    for (size_t i = 0; i < m; ++i) {
        s->block[2 * i] = in[0][at + i];
        s->block[2 * i + 1] = in[1][at + i];
    }
    return s->block;
}

bool spool_write(Spool *s, const float *const *in, uint32_t n, Error *e)
{
    for (uint32_t done = 0; done < n;) {
        const uint32_t m = n - done < SPOOL_BLOCK ? n - done : SPOOL_BLOCK;
        if (fwrite(put_together(s, in, done, m), s->channels * sizeof(float), m, s->file) != m)
            return no_room(e);
        s->frames += m;
        done += m;
    }
    return true;
}

bool spool_rewind(Spool *s, Error *e)
{
    s->at = 0;
    return (!fflush(s->file) && !fseek(s->file, 0, SEEK_SET)) || no_room(e);
}

static void take_apart(const Spool *s, uint32_t m, float *const *out, uint32_t at)
{
    for (size_t i = 0; i < m && s->channels == 2; ++i) {
        out[0][at + i] = s->block[2 * i];
        out[1][at + i] = s->block[2 * i + 1];
    }
}

bool spool_read(Spool *s, float *const *out, uint32_t n, uint32_t *got, Error *e)
{
    const uint64_t left = s->frames - s->at;
    *got = left < n ? (uint32_t)left : n;
    for (uint32_t done = 0; done < *got;) {
        const uint32_t m = *got - done < SPOOL_BLOCK ? *got - done : SPOOL_BLOCK;
        float *to = s->channels == 1 ? out[0] + done : s->block;
        if (fread(to, s->channels * sizeof(float), m, s->file) != m)
            return error_set(e, ERROR_INSIDE, "the working copy cannot be read back: %s", strerror(errno));
        take_apart(s, m, out, done);
        done += m;
    }
    for (uint32_t c = 0; c < s->channels; ++c)
        memset(out[c] + *got, 0, (n - *got) * sizeof(float));
    s->at += *got;
    return true;
}
