/* Coverage-guided: libFuzzer makes the bytes. LINCTUS_BUNDLE names the bundle, built with the same instrumentation.
 * Ends, all being well, when every total asked for is reached: LINCTUS_FUZZ_SECONDS of CPU time (default 600),
 * LINCTUS_FUZZ_RUNS calls of run() and LINCTUS_FUZZ_FRAMES frames (default 0). Says the totals once a minute of CPU
 * time and at the end. */
#include "drive.h"
#include "until.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

typedef struct {
    uint64_t cases, runs, frames;
    double seconds;
} Totals;

/* libFuzzer's entry point has no room for a pointer of ours. */
static struct {
    Drive *drive;
    uint64_t cases;
    Totals wanted;
    double said;
} fuzz;

static Totals totals(void)
{
    return (Totals){fuzz.cases, drive_runs(fuzz.drive), drive_frames(fuzz.drive), until_cpu_seconds()};
}

static void say(const Totals *t, const char *how)
{
    fprintf(stderr, "fuzz: %s: %llu cases, %llu runs, %llu frames, %.0f CPU seconds\n", how,
            (unsigned long long)t->cases, (unsigned long long)t->runs, (unsigned long long)t->frames, t->seconds);
}

static void start(void)
{
    const char *bundle = getenv("LINCTUS_BUNDLE");
    fuzz.drive = drive_open(bundle ? bundle : "build/fuzz/linctus.lv2");
    if (!fuzz.drive)
        exit(1);
    fuzz.wanted.seconds = until_wish("LINCTUS_FUZZ_SECONDS", 600.0);
    fuzz.wanted.runs = (uint64_t)until_wish("LINCTUS_FUZZ_RUNS", 0.0);
    fuzz.wanted.frames = (uint64_t)until_wish("LINCTUS_FUZZ_FRAMES", 0.0);
}

/* libFuzzer takes exit() for a fault of the plug-in's. */
static void finish(const Totals *t)
{
    say(t, "done, nothing found");
    drive_close(fuzz.drive);
    _exit(0);
}

static void watch(void)
{
    const Totals t = totals();
    if (t.seconds >= fuzz.said + 60.0) {
        fuzz.said = t.seconds;
        say(&t, "so far");
    }
    if (t.seconds >= fuzz.wanted.seconds && t.runs >= fuzz.wanted.runs && t.frames >= fuzz.wanted.frames)
        finish(&t);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    if (!fuzz.drive)
        start();
    if (!drive_case(fuzz.drive, bytes, size))
        abort();
    ++fuzz.cases;
    watch();
    return 0;
}
