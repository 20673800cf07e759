/* A short, repeatable run of the driver that `make fuzz` uses at length, and the cases it once found. */
#include "fuzz/drive.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#include "figure.h"
#include "seeds.h"

enum { CASES = 180, LONGEST = 400 };

/* Cases that once failed, as bytes. */
static const struct {
    const char *what;
    size_t size;
    uint8_t bytes[64];
} found[] = {
    {"the highest rate there is", 3, {0x0d, 0xff, 0x01}},
    {"a true peak past its read-out's range", 12, {0x0a, 6, 1, 1, 0x10, 14, 0, 0, 1, 248, 128, 0}},
};

static void cases_found_before_stay_fixed(void **state)
{
    for (size_t i = 0; i < sizeof found / sizeof *found; ++i)
        if (!drive_case(*state, found[i].bytes, found[i].size))
            fail_msg("%s", found[i].what);
}

static void arbitrary_cases_meet_every_demand(void **state)
{
    for (uint32_t n = 0; n < CASES; ++n) {
        uint8_t bytes[LONGEST];
        drive_arbitrary(seeded(n), bytes, LONGEST);
        if (!drive_case(*state, bytes, LONGEST))
            fail_msg("case %u", seeded(n));
    }
    figure_note("Suite", "arbitrary runs in the short fuzz run", (double)drive_runs(*state), "runs");
    figure_note("Suite", "frames in them", (double)drive_frames(*state), "frames");
}

static int open_drive(void **state)
{
    const char *build = getenv("LINCTUS_BUILD");
    char bundle[4096];
    snprintf(bundle, sizeof bundle, "%s/linctus.lv2", build ? build : "build");
    *state = drive_open(bundle);
    return *state ? 0 : -1;
}

static int close_drive(void **state)
{
    drive_close(*state);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cases_found_before_stay_fixed),
        cmocka_unit_test(arbitrary_cases_meet_every_demand),
    };
    return cmocka_run_group_tests(tests, open_drive, close_drive);
}
