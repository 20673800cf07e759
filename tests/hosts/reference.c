/* What a real host has to match:
 *     reference run BUNDLE URI IN.wav OUT.wav BLOCK [PRESET-LABEL] [SYMBOL=VALUE]...   the plug-in's raw output, float,
 * latency and all reference compare A.wav B.wav SKIP TAIL    to the bit, leaving out SKIP frames at the start and TAIL
 * at the end reference near A.wav B.wav DB              B somewhere inside A (any offset): the difference under DB dB
 * of A's peak Exit status 0: equal (or done). The verdict is one line. */
#include "host.h"

#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
    uint32_t frames, channels;
    int rate;
    float *x; /* interleaved */
} Sound;

static Sound load(const char *path)
{
    SF_INFO info = {0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    if (!file) {
        printf("cannot read %s\n", path);
        exit(1);
    }
    Sound s = {.channels = (uint32_t)info.channels, .rate = info.samplerate};
    s.x = calloc((size_t)(info.frames + 1) * s.channels, sizeof *s.x);
    s.frames = s.x ? (uint32_t)sf_readf_float(file, s.x, info.frames) : 0;
    sf_close(file);
    return s;
}

static void save(const char *path, const Sound *s)
{
    SF_INFO info = {.samplerate = s->rate, .channels = (int)s->channels, .format = SF_FORMAT_WAV | SF_FORMAT_FLOAT};
    SNDFILE *file = sf_open(path, SFM_WRITE, &info);
    if (!file || sf_writef_float(file, s->x, s->frames) != s->frames) {
        printf("cannot write %s\n", path);
        exit(1);
    }
    sf_close(file);
}

/* ---- run ---- */

static void must(bool ok, const Error *e)
{
    if (ok)
        return;
    printf("%s\n", e->text);
    exit(1);
}

static const Plugin *find_plugin(const Host *host, const char *uri)
{
    for (uint32_t p = 0; p < host_plugins(host); ++p)
        if (!strcmp(host_plugin_at(host, p)->uri, uri))
            return host_plugin_at(host, p);
    printf("no plug-in %s\n", uri);
    exit(1);
}

static uint32_t number(const char *text)
{
    return (uint32_t)strtoul(text, NULL, 10);
}

/* SYMBOL=VALUE, or else a preset's label. */
static void apply_setting(Instance *i, char *text)
{
    Error e;
    char *equals = strchr(text, '=');
    if (!equals) {
        must(instance_preset(i, text, &e), &e);
        return;
    }
    *equals = '\0';
    must(instance_set_text(i, text, equals + 1, &e), &e);
}

static int run(int argc, char **argv)
{
    Error e;
    Host *host = host_open(argv[0], &e);
    must(host, &e);
    const Plugin *plugin = find_plugin(host, argv[1]);
    const Sound in = load(argv[2]);
    const uint32_t block = number(argv[4]);
    Instance *i = instance_new(host, plugin, in.rate, INSTANCE_PLAIN, &e);
    must(i, &e);
    for (int a = 5; a < argc; ++a)
        apply_setting(i, argv[a]);
    instance_activate(i);

    Sound out = {.frames = in.frames, .channels = plugin->outs, .rate = in.rate};
    out.x = calloc((size_t)out.frames * out.channels + 1, sizeof *out.x);
    float *lane[4];
    for (uint32_t c = 0; c < 4; ++c)
        lane[c] = calloc(block + 1, sizeof **lane);
    for (uint32_t at = 0; at < in.frames; at += block) {
        const uint32_t n = in.frames - at < block ? in.frames - at : block;
        for (uint32_t t = 0; t < n; ++t)
            for (uint32_t c = 0; c < plugin->ins; ++c)
                lane[c][t] = in.x[(at + t) * in.channels + (c < in.channels ? c : 0)];
        instance_run(i, (const float *const *)lane, lane + 2, n);
        for (uint32_t t = 0; t < n; ++t)
            for (uint32_t c = 0; c < plugin->outs; ++c)
                out.x[(at + t) * out.channels + c] = lane[2 + c][t];
    }
    save(argv[3], &out);
    for (uint32_t c = 0; c < 4; ++c)
        free(lane[c]);
    free(out.x);
    free(in.x);
    instance_free(i);
    host_close(host);
    return 0;
}

/* ---- compare ---- */

static int compare(const char *a_path, const char *b_path, uint32_t skip, uint32_t tail)
{
    const Sound a = load(a_path), b = load(b_path);
    const uint32_t frames = a.frames < b.frames ? a.frames : b.frames;
    if (a.channels != b.channels || frames <= skip + tail || a.frames > frames + tail || b.frames > frames + tail) {
        printf("%u frames of %u channels against %u of %u\n", a.frames, a.channels, b.frames, b.channels);
        free(a.x);
        free(b.x);
        return 1;
    }
    uint32_t differ = 0;
    size_t first = 0;
    double sum = 0.0;
    for (size_t i = (size_t)skip * a.channels; i < (size_t)(frames - tail) * a.channels; ++i) {
        sum += fabs((double)a.x[i]);
        if (a.x[i] != b.x[i] && differ++ == 0)
            first = i / a.channels;
    }
    if (differ)
        printf("%u samples differ, the first at frame %zu\n", differ, first);
    else
        printf("%s over %u frames\n", sum > 0.0 ? "equal to the bit" : "both silent", frames - tail - skip);
    free(a.x);
    free(b.x);
    return differ || sum <= 0.0;
}

/* ---- near: a recording that starts anywhere ---- */

/* Largest difference when b[0] lies on a[at]. */
static double difference(const Sound *a, const Sound *b, size_t at, size_t n, double stop)
{
    double worst = 0.0;
    for (size_t i = 0; i < n && worst <= stop; ++i)
        worst = fmax(worst, fabs((double)a->x[(at + i) * a->channels] - (double)b->x[i * b->channels]));
    return worst;
}

static int near(const char *a_path, const char *b_path, double db)
{
    const Sound a = load(a_path), b = load(b_path);
    double peak = 0.0;
    for (size_t i = 0; i < a.frames; ++i)
        peak = fmax(peak, fabs((double)a.x[i * a.channels]));
    const double limit = peak * pow(10.0, db / 20.0);
    const uint32_t n = b.frames;
    bool found = false;
    for (uint32_t at = 0; n > 0 && at + n <= a.frames && !found; ++at)
        found = difference(&a, &b, at, n, limit) <= limit;
    if (found)
        printf("within %g dB of the peak over %u frames\n", db, n);
    else
        printf("%u frames, nowhere within %g dB of the peak\n", n, db);
    free(a.x);
    free(b.x);
    return !found;
}

int main(int argc, char **argv)
{
    if (argc >= 7 && !strcmp(argv[1], "run"))
        return run(argc - 2, argv + 2);
    if (argc == 6 && !strcmp(argv[1], "compare"))
        return compare(argv[2], argv[3], number(argv[4]), number(argv[5]));
    if (argc == 5 && !strcmp(argv[1], "near"))
        return near(argv[2], argv[3], strtod(argv[4], NULL));
    printf("usage: reference run|compare|near ... (see the source)\n");
    return 2;
}
