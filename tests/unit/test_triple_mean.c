/* The triple running mean: against its definition, when it arrives, and that it never drifts. */
#include "triple_mean.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

enum { N = 400 };

static int32_t in[N];

static void fill(void)
{
    uint32_t seed = 1;
    for (int t = 0; t < N; ++t) {
        seed = seed * 1664525u + 1013904223u;
        in[t] = (int32_t)(seed >> 1) - (1 << 30);
    }
}

/* One running sum of n, of what lay at `before` for ever. */
static void running_sum(int64_t *to, const int64_t *from, int64_t before, int n)
{
    for (int t = 0; t < N; ++t) {
        to[t] = 0;
        for (int k = 0; k < n; ++k)
            to[t] += t - k < 0 ? before : from[t - k];
    }
}

static void is_three_running_means(void **state)
{
    (void)state;
    static const uint32_t length[] = {1, 2, 3, 29, 101};
    static int64_t a[N], b[N], c[N];
    fill();
    for (int i = 0; i < 5; ++i) {
        TripleMean m;
        const int n = (int)length[i];
        const int64_t before = -12345;
        assert_true(triple_mean_init(&m, length[i]));
        triple_mean_rest(&m, (int32_t)before);
        for (int t = 0; t < N; ++t)
            a[t] = in[t];
        running_sum(b, a, before, n);
        running_sum(c, b, before * n, n);
        running_sum(a, c, before * n * n, n);
        for (int t = 0; t < N; ++t)
            assert_true(triple_mean_step(&m, in[t]) == a[t]);
        assert_true(triple_mean_weight(&m) == (double)n * n * n);
        triple_mean_done(&m);
    }
}

static void a_step_arrives_in_time(void **state)
{
    (void)state;
    enum { LENGTH = 29 };
    const int64_t whole = (int64_t)LENGTH * LENGTH * LENGTH * 1000;
    TripleMean m;
    assert_true(triple_mean_init(&m, LENGTH));
    int64_t before = 0;
    for (int t = 1; t <= 3 * LENGTH - 2; ++t) {
        assert_true(before < whole);
        const int64_t now = triple_mean_step(&m, 1000);
        assert_true(now > before);
        before = now;
    }
    assert_true(before == whole);
    triple_mean_done(&m);
}

/* The longest, at both ends of its range: no overflow, no drift. */
static void the_longest_holds_its_range(void **state)
{
    (void)state;
    TripleMean m;
    assert_true(triple_mean_init(&m, TRIPLE_MEAN_LONGEST));
    const int32_t most = 1 << 30;
    for (int turn = 0; turn < 3; ++turn) {
        int64_t sum = 0;
        for (int t = 0; t < 3 * TRIPLE_MEAN_LONGEST; ++t)
            sum = triple_mean_step(&m, turn % 2 ? -most : most);
        assert_true((double)sum == (turn % 2 ? -most : most) * triple_mean_weight(&m));
    }
    triple_mean_done(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(is_three_running_means),
        cmocka_unit_test(a_step_arrives_in_time),
        cmocka_unit_test(the_longest_holds_its_range),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
