/* What static analysis has to know of the test library: an assertion that fails does not come back. cmocka's own
 * functions do not say so, and every pointer a test has asserted would count as perhaps NULL after it. Forced into the
 * test programs by tests/lint.sh, part of no build. */
#ifndef LINCTUS_ANALYSED_H
#define LINCTUS_ANALYSED_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#undef assert_true
#undef assert_false
#undef assert_non_null
#undef fail_msg
#undef fail
#undef skip
#define assert_true(c)     ((c) ? (void)0 : abort())
#define assert_false(c)    ((c) ? abort() : (void)0)
#define assert_non_null(p) ((p) ? (void)0 : abort())
#define fail_msg(...)      (print_error(__VA_ARGS__), abort())
#define fail()             abort()
#define skip()             abort()

#endif
