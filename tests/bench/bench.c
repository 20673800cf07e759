/* What each plug-in of a bundle costs, and the chain: tests/bench/run.sh puts together what this prints.
 *
 *     bench rows BUNDLE TAKE.wav...    each subject in each mode: ns a frame
 *     bench counts BUNDLE TAKE.wav...  the same under callgrind, which dumps what it counted: instructions
 *     bench race BUNDLE TAKE.wav       the chain alone: ns a frame, to be raced against other tools
 *     bench pair BUNDLE TAKE.wav       Chain beside the five with its settings and what it learned: ns a frame, in
 * turns bench blocks BUNDLE TAKE.wav     the costliest block while all that can listen does, as a ratio to the usual
 * one bench memory BUNDLE TAKE.wav     bytes and milliseconds an instance takes
 *
 * A line: subject, channels, then either "mode rate block ns" or the figures. */
#include "measure.h"

#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SUBJECTS = 64, TAUGHT_BY = 40 /* seconds of the take */ };

static const char chain[] = "trim tone compressor esses plate";
static const char *const mode_name[WORK_MODES] = {"learn", "hold", "off", "silence"};

typedef struct {
    Host *host;
    Take take;
    uint32_t subjects;
    Subject subject[SUBJECTS];
} Bench;

static void fail(const char *what)
{
    fprintf(stderr, "bench: %s\n", what);
    exit(1);
}

/* ---- What is measured ---- */

static Take read_take(const char *name)
{
    SF_INFO info = {0};
    SNDFILE *file = sf_open(name, SFM_READ, &info);
    if (!file || info.channels != 1)
        fail("cannot read the take as mono");
    float *sound = malloc((size_t)info.frames * sizeof *sound);
    if (!sound || sf_readf_float(file, sound, info.frames) != info.frames)
        fail("cannot read the take");
    sf_close(file);
    return (Take){.rate = info.samplerate, .sound = sound, .frames = (uint32_t)info.frames};
}

static void add(Bench *b, const char *name, const char *stems, uint32_t channels)
{
    if (b->subjects < SUBJECTS && subject_make(&b->subject[b->subjects], b->host, name, stems, channels))
        ++b->subjects;
}

static void add_all(Bench *b)
{
    for (uint32_t p = 0; p < host_plugins(b->host); ++p) {
        const Plugin *plugin = host_plugin_at(b->host, p);
        add(b, plugin->stem, plugin->stem, plugin->ins);
    }
    for (uint32_t channels = 1; channels <= 2; ++channels)
        add(b, "the five in a row", chain, channels);
}

static void teach_all(Bench *b)
{
    const uint32_t most = (uint32_t)(TAUGHT_BY * b->take.rate);
    const uint32_t frames = b->take.frames < most ? b->take.frames : most;
    for (uint32_t k = 0; k < b->subjects; ++k)
        subject_teach(&b->subject[k], b->host, b->take.rate, b->take.sound, frames);
}

/* ---- What is printed ---- */

typedef void (*Measure)(Bench *b, const Subject *s, Case c);

static void name_case(const Bench *b, const Subject *s, Case c, char *text, size_t room)
{
    snprintf(text, room, "%s|%u|%s|%.0f|%u", s->name, s->channels, mode_name[c.mode], b->take.rate, c.block);
}

static void print_time(Bench *b, const Subject *s, Case c)
{
    char text[128];
    name_case(b, s, c, text, sizeof text);
    printf("%s|%.2f\n", text, time_of(s, b->host, &b->take, c));
    fflush(stdout);
}

static void count(Bench *b, const Subject *s, Case c)
{
    char text[128];
    name_case(b, s, c, text, sizeof text);
    count_of(s, b->host, &b->take, c, text);
}

static void each_case(Bench *b, Measure measure)
{
    static const uint32_t blocks[] = {1024, 64, 16};
    teach_all(b);
    for (uint32_t k = 0; k < b->subjects; ++k) {
        for (WorkMode mode = 0; mode < WORK_MODES; ++mode)
            measure(b, &b->subject[k], (Case){mode, 256});
        for (size_t i = 0; i < sizeof blocks / sizeof *blocks; ++i)
            measure(b, &b->subject[k], (Case){WORK_HOLD, blocks[i]});
    }
}

static void race(Bench *b)
{
    add(b, "the five in a row", chain, 1);
    add(b, "Tone and Compressor", "tone compressor", 1);
    teach_all(b);
    print_time(b, &b->subject[0], (Case){WORK_HOLD, 256});
    print_time(b, &b->subject[0], (Case){WORK_LEARN, 256});
    print_time(b, &b->subject[1], (Case){WORK_HOLD, 256});
}

/* Chain and its five, as they come up for a tenor, who both know the same: on hold they put out the same to the bit. */
static void make_pair(Bench *b, uint32_t channels)
{
    const uint32_t first = b->subjects, most = (uint32_t)(TAUGHT_BY * b->take.rate);
    add(b, "Chain", "chain", channels);
    add(b, "its five", chain, channels);
    Subject *one = &b->subject[first], *five = &b->subject[first + 1];
    one->preset = five->preset = "Tenor";
    subject_teach(one, b->host, b->take.rate, b->take.sound, b->take.frames < most ? b->take.frames : most);
    subject_tell(five, one);
}

static void print_pair(Bench *b)
{
    static const WorkMode mode[] = {WORK_HOLD, WORK_LEARN};
    for (uint32_t channels = 1; channels <= 2; ++channels) {
        make_pair(b, channels);
        const Subject *const s[] = {&b->subject[b->subjects - 2], &b->subject[b->subjects - 1]};
        for (int m = 0; m < 2; ++m) {
            double ns[2];
            race_of(s, b->host, &b->take, (Case){mode[m], 256}, ns);
            printf("%u|%s|%.2f|%.2f\n", channels, mode_name[mode[m]], ns[0], ns[1]);
            fflush(stdout);
        }
    }
}

static void count_pair(Bench *b)
{
    static const WorkMode mode[] = {WORK_HOLD, WORK_LEARN};
    for (uint32_t channels = 1; channels <= 2; ++channels) {
        make_pair(b, channels);
        for (uint32_t s = b->subjects - 2; s < b->subjects; ++s)
            for (int m = 0; m < 2; ++m)
                count(b, &b->subject[s], (Case){mode[m], 256});
    }
}

static void print_blocks(Bench *b)
{
    add_all(b);
    for (uint32_t k = 0; k < b->subjects; ++k) {
        const Subject *s = &b->subject[k];
        printf("%s|%u|%.2f\n", s->name, s->channels, costliest_block(s, b->host, &b->take));
        fflush(stdout);
    }
}

static void print_memory(Bench *b)
{
    add_all(b);
    for (uint32_t k = 0; k < b->subjects; ++k) {
        const Subject *s = &b->subject[k];
        const Footprint f = footprint_of(s, b->host, b->take.rate);
        if (s->stages == 1)
            printf("%s|%u|%.0f|%.3f\n", s->name, s->channels, f.bytes / 1024.0, f.milliseconds);
    }
}

static bool do_with(Bench *b, const char *what)
{
    if (!strcmp(what, "rows") || !strcmp(what, "counts")) {
        add_all(b);
        each_case(b, *what == 'r' ? print_time : count);
        if (*what == 'c')
            count_pair(b);
    } else if (!strcmp(what, "pair"))
        print_pair(b);
    else if (!strcmp(what, "race"))
        race(b);
    else if (!strcmp(what, "blocks"))
        print_blocks(b);
    else if (!strcmp(what, "memory"))
        print_memory(b);
    else
        return false;
    return true;
}

int main(int argc, char **argv)
{
    static Bench b;
    Error e;
    for (int a = 3; a < argc; ++a) {
        b = (Bench){.host = host_open(argv[2], &e)};
        if (!b.host)
            fail(e.text);
        b.take = read_take(argv[a]);
        if (!do_with(&b, argv[1]))
            argc = 0;
        for (uint32_t k = 0; k < b.subjects; ++k)
            subject_done(&b.subject[k]);
        host_close(b.host);
        free((void *)b.take.sound);
    }
    if (argc < 4)
        fprintf(stderr, "usage: bench rows | counts | race | pair | blocks | memory BUNDLE TAKE.wav...\n");
    return argc < 4 ? 2 : 0;
}
