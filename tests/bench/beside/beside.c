/* The repairs beside general tools that are meant for the same fault: the same takes, the same measures, one run.
 * tests/bench/beside.sh runs the tools and puts together what this prints.
 *
 *     beside make FOLDER           writes a clean take of each voice and one with each fault: FAULT-VOICE.wav; and
 *                                  noise-VOICE.wav, the noise of the floor take alone, for a tool that asks for it
 *     beside level VOICE           dB: the voice's level
 *     beside judge FAULT VOICE OUT.wav CLEAN.wav
 *                                  what a tool made of the faulty take and of the clean one: two figures, and the share
 *                                  of a clean take's energy that went, per cent
 *     beside time BUNDLE STEM TAKE.wav
 *                                  ns a frame of a plug-in, on hold
 *
 * VOICE: 0.. of the voices that are asked. */
#include "takes.h"

#include "../measure.h"
#include "spectrum.h"

#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void fail(const char *what)
{
    fprintf(stderr, "beside: %s\n", what);
    exit(1);
}

static uint32_t number(const char *text)
{
    char *end;
    const unsigned long n = strtoul(text, &end, 10);
    if (end == text || *end || n >= BESIDE_VOICES)
        fail("no such voice");
    return (uint32_t)n;
}

static void save(const char *folder, const char *what, uint32_t voice, const float *x, uint32_t n)
{
    char path[1024];
    SF_INFO info = {.samplerate = (int)VOICES_RATE, .channels = 1, .format = SF_FORMAT_WAV | SF_FORMAT_FLOAT};
    snprintf(path, sizeof path, "%s/%s-%u.wav", folder, what, (unsigned)voice);
    SNDFILE *f = sf_open(path, SFM_WRITE, &info);
    if (!f || sf_writef_float(f, x, n) != n)
        fail(path);
    sf_close(f);
}

/* As long as the take, silence behind a shorter one. */
static float *load(const char *path, uint32_t n)
{
    SF_INFO info = {0};
    SNDFILE *f = sf_open(path, SFM_READ, &info);
    if (!f || info.channels != 1)
        fail(path);
    float *x = calloc(n + (size_t)info.frames + 1, sizeof *x);
    if (!x || sf_readf_float(f, x, info.frames) < 0)
        fail(path);
    sf_close(f);
    return x;
}

static void make(const char *folder)
{
    for (uint32_t v = 0; v < BESIDE_VOICES; ++v) {
        BesideTake t;
        if (!beside_make(&t, v, FAULT_FLOOR))
            fail("recorded voices are missing: tests/packages.sh all installs them");
        save(folder, "clean", v, t.clean, t.w.n);
        save(folder, "noise", v, t.planted, t.w.n);
        beside_free(&t);
        for (BesideFault f = 0; f < BESIDE_FAULTS; ++f) {
            beside_make(&t, v, f);
            save(folder, beside_fault[f], v, t.faulty, t.w.n);
            beside_free(&t);
        }
    }
}

static BesideFault fault_of(const char *name)
{
    for (BesideFault f = 0; f < BESIDE_FAULTS; ++f)
        if (!strcmp(name, beside_fault[f]))
            return f;
    fail("no such fault");
    return BESIDE_FAULTS;
}

static void judge(const char *fault, uint32_t voice, const char *out, const char *clean)
{
    BesideTake t;
    if (!beside_make(&t, voice, fault_of(fault)))
        fail("recorded voices are missing");
    float *x = load(out, t.w.n), *y = load(clean, t.w.n);
    const BesideFigures f = beside_judge(&t, fault_of(fault), x, y);
    printf("%.2f %.2f %.3f\n", f.first, f.second, f.taken);
    free(x);
    free(y);
    beside_free(&t);
}

static void level(uint32_t voice)
{
    BesideTake t;
    if (!beside_make(&t, voice, FAULT_FLOOR))
        fail("recorded voices are missing");
    printf("%.2f\n", t.w.level);
    beside_free(&t);
}

static void time_it(const char *bundle, const char *stem, const char *path)
{
    enum { SECONDS = 20 };
    static Subject s;
    Error e;
    Host *host = host_open(bundle, &e);
    if (!host)
        fail(e.text);
    const uint32_t n = SECONDS * (uint32_t)VOICES_RATE;
    float *x = load(path, n);
    const Take take = {.rate = VOICES_RATE, .sound = x, .frames = n};
    if (!subject_make(&s, host, stem, stem, 1))
        fail("no such plug-in");
    subject_teach(&s, host, take.rate, take.sound, take.frames);
    printf("%.2f\n", time_of(&s, host, &take, (Case){WORK_HOLD, 256}));
    subject_done(&s);
    host_close(host);
    free(x);
}

int main(int argc, char **argv)
{
    if (argc == 3 && !strcmp(argv[1], "make"))
        make(argv[2]);
    else if (argc == 3 && !strcmp(argv[1], "level"))
        level(number(argv[2]));
    else if (argc == 6 && !strcmp(argv[1], "judge"))
        judge(argv[2], number(argv[3]), argv[4], argv[5]);
    else if (argc == 5 && !strcmp(argv[1], "time"))
        time_it(argv[2], argv[3], argv[4]);
    else
        return fprintf(
                   stderr,
                   "usage: beside make FOLDER | level VOICE | judge FAULT VOICE OUT CLEAN | time BUNDLE STEM TAKE\n"),
               2;
    return 0;
}
