/* What a real host has to match. The verdict is one line; exit status 0: equal, or done.
 *
 *     reference run BUNDLE URI IN.wav OUT.wav BLOCK [SETTING]...   the plug-in's raw output, float, latency and all
 *     reference compare A.wav B.wav TAIL                           to the bit, leaving out TAIL frames at the end
 *     reference stereo IN.wav OUT.wav                              the first channel, and the same at half its level
 *     reference frames IN.wav                                      prints how many there are
 *     reference raw IN.wav OUT.raw                                 the first channel, for tests/cross/load.c
 *     reference ports BUNDLE URI                                   prints the ports as that program wants them
 *
 * A SETTING is SYMBOL=VALUE, or a preset's label, or FOLDER/ with a state.ttl as sessions store it, controls included.
 */
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

static void apply_setting(Instance *i, char *text)
{
    Error e;
    char *equals = strchr(text, '=');
    if (equals) {
        *equals = '\0';
        must(instance_set_text(i, text, equals + 1, &e), &e);
    } else if (*text && text[strlen(text) - 1] == '/') {
        must(instance_restore_from(i, text, true, &e), &e);
    } else {
        must(instance_preset(i, text, &e), &e);
    }
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

static int compare(const char *a_path, const char *b_path, uint32_t tail)
{
    const Sound a = load(a_path), b = load(b_path);
    const uint32_t frames = a.frames < b.frames ? a.frames : b.frames;
    if (a.channels != b.channels || frames <= tail || a.frames > frames + tail || b.frames > frames + tail) {
        printf("%u frames of %u channels against %u of %u\n", a.frames, a.channels, b.frames, b.channels);
        free(a.x);
        free(b.x);
        return 1;
    }
    uint32_t differ = 0;
    size_t first = 0;
    double sum = 0.0, most = 0.0;
    for (size_t i = 0; i < (size_t)(frames - tail) * a.channels; ++i) {
        sum += fabs((double)a.x[i]);
        if (a.x[i] != b.x[i] && differ++ == 0)
            first = i / a.channels;
        most = fmax(most, fabs((double)a.x[i] - (double)b.x[i]));
    }
    if (differ)
        printf("%u samples differ, by up to %g, the first at frame %zu\n", differ, most, first);
    else
        printf("%s over %u frames\n", sum > 0.0 ? "equal to the bit" : "both silent", frames - tail);
    free(a.x);
    free(b.x);
    return differ || sum <= 0.0;
}

/* ---- what the hosts are fed with ---- */

static int stereo(const char *in_path, const char *out_path)
{
    const Sound in = load(in_path);
    Sound out = {.frames = in.frames, .channels = 2, .rate = in.rate};
    out.x = calloc((size_t)in.frames * 2 + 1, sizeof *out.x);
    for (size_t i = 0; i < in.frames; ++i) {
        out.x[2 * i] = in.x[i * in.channels];
        out.x[2 * i + 1] = 0.5f * in.x[i * in.channels];
    }
    save(out_path, &out);
    free(out.x);
    free(in.x);
    return 0;
}

static int frames(const char *path)
{
    const Sound s = load(path);
    printf("%u\n", s.frames);
    free(s.x);
    return 0;
}

static int raw(const char *in_path, const char *out_path)
{
    const Sound s = load(in_path);
    FILE *file = fopen(out_path, "wb");
    bool done = file;
    for (size_t i = 0; i < s.frames && done; ++i) {
        uint32_t bits;
        memcpy(&bits, &s.x[i * s.channels], 4);
        const unsigned char b[4] = {(unsigned char)bits, (unsigned char)(bits >> 8), (unsigned char)(bits >> 16),
                                    (unsigned char)(bits >> 24)};
        done = fwrite(b, 1, 4, file) == 4;
    }
    if (file)
        done = fclose(file) == 0 && done;
    free(s.x);
    return !done;
}

static int ports(const char *bundle, const char *uri)
{
    Error e;
    Host *host = host_open(bundle, &e);
    must(host, &e);
    const Plugin *plugin = find_plugin(host, uri);
    for (uint32_t p = 0; p < plugin->ports; ++p) {
        const Port *port = &plugin->port[p];
        if (port->kind == PORT_CONTROL)
            printf("%.9g\n", (double)port->def);
        else
            printf("%s\n", port->kind == PORT_AUDIO_IN ? "in" : port->kind == PORT_AUDIO_OUT ? "out" : "meter");
    }
    host_close(host);
    return 0;
}

int main(int argc, char **argv)
{
    if (argc == 4 && !strcmp(argv[1], "raw"))
        return raw(argv[2], argv[3]);
    if (argc == 4 && !strcmp(argv[1], "ports"))
        return ports(argv[2], argv[3]);
    if (argc >= 7 && !strcmp(argv[1], "run"))
        return run(argc - 2, argv + 2);
    if (argc == 5 && !strcmp(argv[1], "compare"))
        return compare(argv[2], argv[3], number(argv[4]));
    if (argc == 4 && !strcmp(argv[1], "stereo"))
        return stereo(argv[2], argv[3]);
    if (argc == 3 && !strcmp(argv[1], "frames"))
        return frames(argv[2]);
    printf("usage: reference run|compare|stereo|frames|raw|ports ... (see the source)\n");
    return 2;
}
