/* What is removed: the output and what is told of it, for any number of samples. */
#include "removal.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

enum { MOST = 11 };

static const float in[MOST] = {1.f, -2.f, 3.f, 4.f, -5.f, 6.f, 7.f, -8.f, 9.f, 10.f, 11.f};
static const float gone[MOST] = {0.5f, 1.f, 2.f, -3.f, 1.f, 0.f, 7.f, -2.f, 4.f, 5.f, 6.f};

static void counts_energy(void **state)
{
    (void)state;
    for (uint32_t n = 0; n <= MOST; ++n) {
        double came = 0.0, removed = 0.0, left = 0.0;
        for (uint32_t t = 0; t < n; ++t) {
            const double x = (double)in[t], y = (double)gone[t];
            came += x * x;
            removed += y * y;
            left += (x - y) * (x - y);
        }
        Removal r = {1.0, 2.0, 3.0, 4.0};
        removal_hear(&r, in, gone, n);
        assert_true(r.in == 1.0 + came && r.removed == 2.0 + removed);
        assert_true(r.in_lately == 3.0 + came && r.out_lately == 4.0 + left);
    }
}

static void forgets_what_was_lately(void **state)
{
    (void)state;
    Removal r = {8.0, 4.0, 2.0, 1.0};
    removal_forget(&r, 0.25);
    assert_true(r.in == 8.0 && r.removed == 4.0 && r.in_lately == 0.5 && r.out_lately == 0.25);
}

static void tells_level_and_share(void **state)
{
    (void)state;
    assert_true(fabs(removal_down(&(Removal){.in_lately = 10.0, .out_lately = 1.0}) + 10.0) < 1e-9);
    assert_true(removal_down(&(Removal){.in_lately = 1.0, .out_lately = 2.0}) == 0.0);
    assert_true(removal_down(&(Removal){0}) == 0.0);
    assert_true(removal_share(&(Removal){.in = 4.0, .removed = 1.0}) == 25.0);
    assert_true(removal_share(&(Removal){.in = 1.0, .removed = 3.0}) == 100.0);
    assert_true(removal_share(&(Removal){0}) == 0.0);
}

static void leaves_the_rest(void **state)
{
    (void)state;
    for (uint32_t n = 0; n <= MOST; ++n) {
        float out[MOST + 1] = {0.f};
        out[n] = 99.f;
        removal_leave(in, gone, 1.5f, out, n);
        for (uint32_t t = 0; t < n; ++t)
            assert_true(out[t] == 1.5f * (in[t] - gone[t]));
        assert_true(out[n] == 99.f);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(counts_energy),
        cmocka_unit_test(forgets_what_was_lately),
        cmocka_unit_test(tells_level_and_share),
        cmocka_unit_test(leaves_the_rest),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
