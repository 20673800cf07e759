/* LINCTUS_ONLY=text in the environment runs those tests alone whose name holds the text: "esses: ", "bypass". Where
 * none does, that is a failure: a run of no tests looks like success and proves nothing. */
#ifndef LINCTUS_ONLY_H
#define LINCTUS_ONLY_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static inline const char *only_text(void)
{
    const char *wish = getenv("LINCTUS_ONLY");
    return wish ? wish : "";
}

/* What the program ends with. Moves the tests that run to the front of `tests`. */
static inline int only_run(const char *group, struct CMUnitTest *tests, size_t count)
{
    size_t used = 0;
    for (size_t i = 0; i < count; ++i)
        if (strstr(tests[i].name, only_text()))
            tests[used++] = tests[i];
    if (used)
        return _cmocka_run_group_tests(group, tests, used, NULL, NULL);
    fprintf(stderr, "%s: none of %zu tests has \"%s\" in its name (LINCTUS_ONLY)\n", group, count, only_text());
    return 1;
}

#endif
