/* For tests that run build/render as a person does: a folder of their own, a shell, sound files. */
#ifndef LINCTUS_RUNS_H
#define LINCTUS_RUNS_H

#include "every.h"
#include "singer.h"
#include "soundfile.h"
#include "units.h"

#include <dirent.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

enum { TEXT = 65536, RATE = 48000 };

/* ---- Running it ---- */

/* A folder of its own for each test. */
typedef struct {
    char folder[64];
    char out[TEXT], err[TEXT]; /* what the last run wrote */
    int status;
} Bench;

static inline int bench_start(void **state)
{
    static Bench b;
    memset(&b, 0, sizeof b);
    strcpy(b.folder, "/tmp/linctus-render-XXXXXX");
    *state = &b;
    return mkdtemp(b.folder) ? 0 : -1;
}

/* The tests are about a command line: a shell runs it. Returns what waitpid() would. */
static inline int shell(const char *command)
{
    return system(command); /* NOLINT(cert-env33-c) */
}

/* In the bench's folder; it has to work. */
static inline void prepare(const Bench *b, const char *commands)
{
    char command[5000];
    snprintf(command, sizeof command, "cd '%s' && %s", b->folder, commands);
    assert_int_equal(shell(command), 0);
}

static inline int bench_end(void **state)
{
    const Bench *b = *state;
    prepare(b, "rm -rf ./* ./.[!.]*");
    return rmdir(b->folder);
}

static inline void slurp(const char *path, char *text)
{
    FILE *f = fopen(path, "rb");
    const size_t n = f ? fread(text, 1, TEXT - 1, f) : 0;
    text[n] = '\0';
    if (f)
        fclose(f);
}

/* The build folder, from wherever a shell has gone. */
static inline void build_folder(char *path, size_t size)
{
    char here[2000];
    if (every_build()[0] == '/')
        snprintf(path, size, "%s", every_build());
    else
        snprintf(path, size, "%s/%s", getcwd(here, sizeof here) ? here : ".", every_build());
}

/* Runs a command that leaves what it prints in .stdout and .stderr in the bench's folder: that goes to b->out and
 * b->err. */
static inline int run_command(Bench *b, const char *command)
{
    char path[128];
    const int ended = shell(command);
    b->status = WIFEXITED(ended) ? WEXITSTATUS(ended) : 128;
    snprintf(path, sizeof path, "%s/.stdout", b->folder);
    slurp(path, b->out);
    unlink(path);
    snprintf(path, sizeof path, "%s/.stderr", b->folder);
    slurp(path, b->err);
    unlink(path);
    return b->status;
}

/* Runs build/render in the bench's folder with these arguments, as a shell takes them. `before` is put in front. */
static inline int run_after(Bench *b, const char *before, const char *arguments)
{
    char command[4096], build[3000];
    build_folder(build, sizeof build);
    snprintf(command, sizeof command, "cd '%s' && %s '%s/render' %s >.stdout 2>.stderr", b->folder, before, build,
             arguments);
    return run_command(b, command);
}

static inline int run(Bench *b, const char *arguments)
{
    return run_after(b, "", arguments);
}

/* The result is there. A second of a test tone is no voice, and said to be none: that is as good here. */
static inline void run_well(Bench *b, const char *arguments)
{
    if (run(b, arguments) && b->status != ERROR_NO_VOICE)
        fail_msg("render %s: status %d, %s", arguments, b->status, b->err);
}

/* How many files, and of what names, are in a folder of the bench; hidden ones count. */
static inline uint32_t files_in(const Bench *b, const char *folder)
{
    char path[256];
    snprintf(path, sizeof path, "%s/%s", b->folder, folder);
    DIR *d = opendir(path);
    uint32_t n = 0;
    for (struct dirent *e; d && (e = readdir(d));)
        n += strcmp(e->d_name, ".") != 0 && strcmp(e->d_name, "..") != 0;
    if (d)
        closedir(d);
    return n;
}

static inline bool is_there(const Bench *b, const char *name)
{
    char path[256];
    struct stat st;
    snprintf(path, sizeof path, "%s/%s", b->folder, name);
    return !stat(path, &st);
}

/* ---- Sound files ---- */

typedef struct {
    SF_INFO info;
    uint32_t n, channels;
    float *x; /* interleaved */
} Sound;

static inline Sound sound_load(const Bench *b, const char *name)
{
    char path[256];
    snprintf(path, sizeof path, "%s/%s", b->folder, name);
    Sound s = {0};
    SNDFILE *f = sf_open(path, SFM_READ, &s.info);
    if (!f)
        fail_msg("%s: %s", name, sf_strerror(NULL));
    s.n = (uint32_t)s.info.frames;
    s.channels = (uint32_t)s.info.channels;
    s.x = every_floats(s.n * s.channels);
    assert_int_equal(sf_readf_float(f, s.x, s.n), s.n);
    sf_close(f);
    return s;
}

static inline void sound_free(Sound *s)
{
    free(s->x);
}

static inline void save(const Bench *b, const char *name, int format, int rate, int channels, const float *x,
                        uint32_t frames)
{
    char path[256];
    snprintf(path, sizeof path, "%s/%s", b->folder, name);
    SF_INFO info = {.samplerate = rate, .channels = channels, .format = format};
    SNDFILE *f = sf_open(path, SFM_WRITE, &info);
    if (!f)
        fail_msg("%s: %s", name, sf_strerror(NULL));
    assert_int_equal(sf_writef_float(f, x, frames), frames);
    sf_close(f);
}

enum { WAV_FLOAT = SF_FORMAT_WAV | SF_FORMAT_FLOAT, WAV_24 = SF_FORMAT_WAV | SF_FORMAT_PCM_24 };

/* A take that is a voice as far as the plug-ins care, of one or two channels, at a gain. */
static inline void save_take(const Bench *b, const char *name, int format, int rate, int channels, double seconds,
                             double db)
{
    Audio a = every_take((uint32_t)(seconds * rate), rate);
    float *x = every_floats(2 * a.n);
    for (uint32_t k = 0; k < a.n; ++k)
        for (int c = 0; c < channels; ++c)
            x[k * (uint32_t)channels + (uint32_t)c] = (float)(db_to_gain(db) * (double)a.channel[c][k]);
    save(b, name, format, rate, channels, x, a.n);
    free(x);
    audio_free(&a);
}

static inline void save_singer(const Bench *b, const char *name, const SingerSpec *spec)
{
    SingerTake take;
    assert_true(singer_sing(spec, &take));
    save(b, name, WAV_FLOAT, (int)take.rate, 1, take.audio, take.frames);
    singer_free(&take);
}

#endif
