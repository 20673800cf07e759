/* How much of one core each plug-in takes, through the LV2 interface: build/bench BUNDLE [RATE]
 * Prints a row a plug-in: how many times faster than the take plays, for the material tests/bench/run.sh hands in as
 * a WAV file (first argument after the bundle). The least of three runs counts. */
#include "host.h"

#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { BLOCK = 256, RUNS = 3 };

static double cpu_seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* CPU seconds for the whole take, the same samples on every input. */
static double time_plugin(Host *host, const Plugin *plugin, double rate, const float *take, uint32_t frames)
{
    static float out[2][BLOCK];
    Error e;
    Instance *i = instance_new(host, plugin, rate, INSTANCE_PLAIN, &e);
    if (!i) {
        fprintf(stderr, "%s: %s\n", plugin->uri, e.text);
        exit(1);
    }
    instance_activate(i);
    const double start = cpu_seconds();
    for (uint32_t at = 0; at < frames; at += BLOCK) {
        const uint32_t n = frames - at < BLOCK ? frames - at : BLOCK;
        const float *const in[] = {take + at, take + at};
        float *const to[] = {out[0], out[1]};
        instance_run(i, in, to, n);
    }
    const double took = cpu_seconds() - start;
    instance_free(i);
    return took;
}

int main(int argc, char **argv)
{
    if (argc != 3) {
        fprintf(stderr, "usage: bench BUNDLE MONO.wav\n");
        return 2;
    }
    SF_INFO info = {0};
    SNDFILE *file = sf_open(argv[2], SFM_READ, &info);
    Error e;
    Host *host = host_open(argv[1], &e);
    if (!file || info.channels != 1 || !host) {
        fprintf(stderr, "cannot read %s as mono, or no bundle at %s\n", argv[2], argv[1]);
        return 1;
    }
    const uint32_t frames = (uint32_t)info.frames;
    float *take = malloc(frames * sizeof *take);
    if (!take || sf_readf_float(file, take, info.frames) != info.frames)
        return 1;
    sf_close(file);

    const double seconds = (double)frames / info.samplerate;
    for (uint32_t p = 0; p < host_plugins(host); ++p) {
        const Plugin *plugin = host_plugin_at(host, p);
        double least = 1e9;
        for (int run = 0; run < RUNS; ++run) {
            const double took = time_plugin(host, plugin, info.samplerate, take, frames);
            least = took < least ? took : least;
        }
        printf("%-44s %8.3f s %8.0f x\n", plugin->uri, least, seconds / least);
    }
    free(take);
    host_close(host);
    return 0;
}
