/* Coverage-guided: libFuzzer makes the bytes. LINCTUS_BUNDLE names the bundle, built with the same instrumentation. */
#include "drive.h"

#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

static Drive *drive;

static void say_totals(void)
{
    fprintf(stderr, "fuzz: %llu runs, %llu frames\n", (unsigned long long)drive_runs(drive),
            (unsigned long long)drive_frames(drive));
    drive_close(drive);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    if (!drive) {
        const char *bundle = getenv("LINCTUS_BUNDLE");
        drive = drive_open(bundle ? bundle : "build/fuzz/linctus.lv2");
        if (!drive)
            exit(1);
        atexit(say_totals);
    }
    if (!drive_case(drive, bytes, size))
        abort();
    return 0;
}
