#undef _cmocka_run_group_tests /* here it is cmocka's own */
#include "only.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *only_text(void)
{
    const char *wish = getenv("LINCTUS_ONLY");
    return wish ? wish : "";
}

static size_t ran, left_out; /* over all groups of the program */

/* At exit, since a group of which no test runs may be followed by one of which some do. */
static void fail_if_none_ran(void)
{
    if (ran)
        return;
    fprintf(stderr, "LINCTUS_ONLY: none of %zu tests has \"%s\" in its name\n", left_out, only_text());
    fflush(NULL);
    _Exit(1);
}

int only_run_group(const char *group, const struct CMUnitTest *tests, size_t count, CMFixtureFunction before,
                   CMFixtureFunction after)
{
    struct CMUnitTest *some = calloc(count + 1, sizeof *some);
    if (!some || atexit(fail_if_none_ran))
        exit(1);
    size_t used = 0;
    for (size_t i = 0; i < count; ++i)
        if (strstr(tests[i].name, only_text()))
            some[used++] = tests[i];
    ran += used;
    left_out += count - used;
    const int failed = used ? _cmocka_run_group_tests(group, some, used, before, after) : 0;
    free(some);
    return failed;
}
