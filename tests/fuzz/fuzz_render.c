/* Coverage-guided: libFuzzer makes the bytes of sound files. LINCTUS_BUNDLE names the bundle, built with the same
 * instrumentation; libsndfile is as it is installed. Ends, all being well, after LINCTUS_FUZZ_SECONDS of CPU time (600)
 * and says the totals. */
#include "broken.h"
#include "until.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

/* libFuzzer's entry point has no room for a pointer of ours. */
static struct {
    Broken *broken;
    double said;
} fuzz;

static void say(const char *how, double seconds)
{
    const BrokenTotals *t = broken_totals(fuzz.broken);
    fprintf(stderr, "fuzz: %s: %llu files, %llu rendered, %llu refused, %llu frames read, %.0f CPU seconds\n", how,
            (unsigned long long)t->files, (unsigned long long)t->rendered, (unsigned long long)t->refused,
            (unsigned long long)t->frames, seconds);
}

static void watch(void)
{
    const double seconds = until_cpu_seconds();
    if (seconds >= fuzz.said + 60.0) {
        fuzz.said = seconds;
        say("so far", seconds);
    }
    if (seconds < until_wish("LINCTUS_FUZZ_SECONDS", 600.0))
        return;
    say("done, nothing found", seconds);
    broken_close(fuzz.broken);
    _exit(0); /* libFuzzer takes exit() for a fault */
}

/* A file is rendered seldom: that takes a thousand times as long as reading it. By its bytes, so that a finding stays
 * one, but scattered, so that those which are rendered do not breed. */
static BrokenWay pick_way(const uint8_t *bytes, size_t size)
{
    uint32_t hash = 2166136261U; /* FNV-1a */
    for (size_t i = 0; i < size; ++i)
        hash = (hash ^ bytes[i]) * 16777619U;
    const uint32_t pick = (hash ^ hash >> 16) % 60;
    return pick < BROKEN_READ ? (BrokenWay)pick : BROKEN_READ;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    if (!fuzz.broken) {
        const char *bundle = getenv("LINCTUS_BUNDLE");
        fuzz.broken = broken_open(bundle ? bundle : "build/fuzz/linctus.lv2");
        if (!fuzz.broken)
            exit(1);
    }
    if (!broken_case(fuzz.broken, pick_way(bytes, size), bytes, size))
        abort();
    watch();
    return 0;
}
