/* What each plug-in costs, through the LV2 interface: build/bench BUNDLE MONO.wav
 * Prints a row a plug-in: how many times faster than the take plays, the least of three runs, and what silence right
 * after the take costs beside the take; then how much the costliest block costs beside the usual one, while everything
 * that can listen does. The material is the WAV file that tests/bench/run.sh hands in. */
#include "host.h"

#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { BLOCK = 256, RUNS = 3 };

/* Silence after a voice costs no more than the voice: denormals would cost many times as much. What is over 1 leaves
 * room for what the machine does meanwhile. */
#define MOST_SILENCE 1.1

static double seconds_of(clockid_t clock)
{
    struct timespec t;
    clock_gettime(clock, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double cpu_seconds(void)
{
    return seconds_of(CLOCK_PROCESS_CPUTIME_ID);
}

/* CPU seconds for so many frames, the same samples on every input; NULL: silence. */
static double time_run(Instance *i, const float *take, uint32_t frames)
{
    static const float silence[BLOCK];
    static float out[2][BLOCK];
    const double start = cpu_seconds();
    for (uint32_t at = 0; at < frames; at += BLOCK) {
        const uint32_t n = frames - at < BLOCK ? frames - at : BLOCK;
        const float *const x = take ? take + at : silence;
        const float *const in[] = {x, x};
        float *const to[] = {out[0], out[1]};
        instance_run(i, in, to, n);
    }
    return cpu_seconds() - start;
}

static Instance *fresh(Host *host, const Plugin *plugin, double rate)
{
    Error e;
    Instance *i = instance_new(host, plugin, rate, INSTANCE_PLAIN, &e);
    if (!i) {
        fprintf(stderr, "%s: %s\n", plugin->uri, e.text);
        exit(1);
    }
    return i;
}

/* CPU seconds, the least of the runs: for the take, and for silence as long as the take right after it. */
typedef struct {
    double take, silence;
} Cost;

static Cost cost_of(Host *host, const Plugin *plugin, double rate, const float *take, uint32_t frames)
{
    Cost least = {1e9, 1e9};
    for (int run = 0; run < RUNS; ++run) {
        Instance *i = fresh(host, plugin, rate);
        instance_activate(i);
        least.take = fmin(least.take, time_run(i, take, frames));
        least.silence = fmin(least.silence, time_run(i, NULL, frames));
        instance_free(i);
    }
    return least;
}

/* ---- The costliest block ---- */

/* Small blocks: in large ones the cost evens out by itself. Learning goes through all it does in LISTENED seconds: by
 * then the memories of Tone and Esses are full. */
enum { SMALL = 64, REPLAYS = 9, LISTENED = 120, FIRST_BLOCKS = 200 };

#define MOST_TIMES 4.0 /* the limit: no block costs more than 4 times the median */

static void set_all_to_listen(Instance *i)
{
    static const char *const wanted[] = {"learn",     "dips_placed_by", "centre_set_by", "threshold_set_by",
                                         "dip1_when", "dip2_when",      "dip3_when"};
    for (size_t k = 0; k < sizeof wanted / sizeof *wanted; ++k)
        instance_set(i, wanted[k], 1.f); /* where it has such a control */
}

/* The least time each block took over some replays of the same samples: what else the machine does falls away. */
static void time_blocks(Host *host, const Plugin *plugin, double rate, const float *take, uint32_t blocks,
                        double *least)
{
    static float out[2][SMALL];
    for (int replay = 0; replay < REPLAYS; ++replay) {
        Instance *i = fresh(host, plugin, rate);
        set_all_to_listen(i);
        instance_activate(i);
        for (uint32_t b = 0; b < blocks; ++b) {
            const float *x = take + (size_t)b * SMALL;
            const float *const in[] = {x, x};
            float *const to[] = {out[0], out[1]};
            const double start = seconds_of(CLOCK_THREAD_CPUTIME_ID);
            instance_run(i, in, to, SMALL);
            const double took = seconds_of(CLOCK_THREAD_CPUTIME_ID) - start;
            least[b] = replay && least[b] < took ? least[b] : took;
        }
        instance_free(i);
    }
}

static int by_value(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void compare_blocks(Host *host, double rate, const float *take, uint32_t frames)
{
    const double most = LISTENED * rate < frames ? LISTENED * rate : frames;
    const uint32_t blocks = (uint32_t)most / SMALL;
    double *least = calloc(blocks + 1, sizeof *least);
    if (!least) /* apart from the next: gcc 12 follows it only so */
        exit(1);
    if (blocks <= 2 * FIRST_BLOCKS)
        exit(1);
    printf("\nListening, blocks of %d                        usual block  costliest, times as much (at most %.0f)\n",
           SMALL, MOST_TIMES);
    for (uint32_t p = 0; p < host_plugins(host); ++p) {
        const Plugin *plugin = host_plugin_at(host, p);
        time_blocks(host, plugin, rate, take, blocks, least);
        qsort(least + FIRST_BLOCKS, blocks - FIRST_BLOCKS, sizeof *least, by_value);
        const double usual = least[(blocks + FIRST_BLOCKS) / 2], worst = least[blocks - 1];
        printf("%-44s %8.2f us %8.2f x%s\n", plugin->uri, 1e6 * usual, worst / usual,
               worst > MOST_TIMES * usual ? "  OVER THE LIMIT" : "");
    }
    free(least);
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
    if (!take || sf_readf_float(file, take, info.frames) != info.frames) {
        free(take);
        return 1;
    }
    sf_close(file);

    const double seconds = (double)frames / info.samplerate;
    for (uint32_t p = 0; p < host_plugins(host); ++p) {
        const Plugin *plugin = host_plugin_at(host, p);
        const Cost cost = cost_of(host, plugin, info.samplerate, take, frames);
        printf("%-44s %8.3f s %8.0f x %8.2f%s\n", plugin->uri, cost.take, seconds / cost.take, cost.silence / cost.take,
               cost.silence > MOST_SILENCE * cost.take ? "  OVER THE LIMIT" : "");
    }
    compare_blocks(host, info.samplerate, take, frames);
    free(take);
    host_close(host);
    return 0;
}
