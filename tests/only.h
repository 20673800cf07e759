/* LINCTUS_ONLY=text in the environment runs those tests alone whose name holds the text: "esses: ", "bypass". A program
 * that runs none for that reason fails: a run of no tests looks like success and proves nothing.
 *
 * Test programs need not know of it: the Makefile compiles them with cmocka's _cmocka_run_group_tests renamed to
 * only_run_group (cmocka's own filter lets a program pass that runs nothing). */
#ifndef LINCTUS_ONLY_H
#define LINCTUS_ONLY_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* "" where it is not set. */
const char *only_text(void);

/* Runs those of a group's tests that are asked for. Returns how many failed. */
int only_run_group(const char *group, const struct CMUnitTest *tests, size_t count, CMFixtureFunction before,
                   CMFixtureFunction after);

#endif
