/* LINCTUS_ONLY (only.h), by this program itself: called with an argument it runs two groups, of two tests and of one.
 */
#include "only.h"

#include <stdio.h>
#include <stdlib.h>

static const char *self;

static void bass(void **state)
{
    (void)state;
}

static void baritone(void **state)
{
    (void)state;
}

static void no_tenor(void **state)
{
    (void)state;
    fail();
}

static int run_groups(void)
{
    const struct CMUnitTest low[] = {cmocka_unit_test(bass), cmocka_unit_test(baritone)};
    const struct CMUnitTest high[] = {cmocka_unit_test(no_tenor)};
    const int failed = cmocka_run_group_tests(low, NULL, NULL);
    return failed + cmocka_run_group_tests(high, NULL, NULL);
}

static int status_with(const char *only)
{
    char command[4096];
    snprintf(command, sizeof command, "LINCTUS_ONLY='%s' '%s' groups >/dev/null 2>&1", only, self);
    return system(command); /* NOLINT(cert-env33-c): this program */
}

static void what_is_asked_for_runs_alone(void **state)
{
    (void)state;
    assert_int_equal(status_with("ba"), 0);
    assert_int_not_equal(status_with("tenor"), 0);
    assert_int_not_equal(status_with(""), 0);
}

static void a_program_that_runs_none_fails(void **state)
{
    (void)state;
    assert_int_not_equal(status_with("alto"), 0);
}

int main(int arguments, char **argument)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_asked_for_runs_alone),
        cmocka_unit_test(a_program_that_runs_none_fails),
    };
    self = argument[0];
    return arguments > 1 ? run_groups() : cmocka_run_group_tests(tests, NULL, NULL);
}
