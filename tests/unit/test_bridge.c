/* Holes that damage leaves, closed for what listens. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "bridge.h"
#include "figure.h"

enum { N = 2000, RATE = 48000, MOST = 48 }; /* MOST: a millisecond */

/* No sample of it is 0. */
static void make_tone(float x[N])
{
    for (int i = 0; i < N; ++i)
        x[i] = (float)sin(2.0 * DSP_PI * 300.0 * (i + 0.5) / RATE) + 0.001f * (float)(i % 7) + 0.0005f;
}

static void hole(float x[N], int at, int n)
{
    memset(x + at, 0, (size_t)n * sizeof *x);
}

/* As many as came out, and they are the first ones. */
static uint32_t through(double rate, const float *in, float *out, uint32_t block)
{
    Bridge b;
    uint32_t came = 0;
    bridge_init(&b, rate);
    for (uint32_t at = 0; at < N; at += block)
        came += bridge_process(&b, in + at, out + came, N - at < block ? N - at : block);
    assert_int_equal(came, N - (b.most + 1));
    return came;
}

static void what_has_no_hole_passes_as_it_is(void **state)
{
    (void)state;
    static const double rates[] = {8000.0, 44100.0, 384000.0};
    float x[N], y[N];
    make_tone(x);
    for (int r = 0; r < 3; ++r) {
        const uint32_t n = through(rates[r], x, y, N);
        assert_int_equal(N - n, (uint32_t)(rates[r] / 1000.0) + 1);
        assert_memory_equal(y, x, n * sizeof *x);
    }
}

static void a_hole_becomes_a_line(void **state)
{
    (void)state;
    static const int length[] = {1, 2, 7, MOST};
    for (int k = 0; k < 4; ++k) {
        const int n = length[k], at = 500;
        float x[N], y[N], want[N];
        make_tone(x);
        make_tone(want);
        hole(x, at, n);
        for (int i = 1; i <= n; ++i)
            want[at - 1 + i] = x[at - 1] + (x[at + n] - x[at - 1]) * (float)i / (float)(n + 1);
        const uint32_t came = through(RATE, x, y, 32);
        for (uint32_t i = 0; i < came; ++i)
            assert_true(fabs((double)(y[i] - want[i])) < 1e-6);
    }
}

/* Before the first sound there is nothing to start from. */
static void silence_stays(void **state)
{
    (void)state;
    float x[N], y[N];
    make_tone(x);
    hole(x, 0, 10);
    hole(x, 400, MOST + 1);
    hole(x, 800, 700);
    const uint32_t came = through(RATE, x, y, 7);
    assert_memory_equal(y, x, came * sizeof *x);
}

static void nothing_is_left_of_before_a_reset(void **state)
{
    (void)state;
    Bridge b;
    float x[N], y[N], again[N];
    make_tone(x);
    bridge_init(&b, RATE);
    bridge_process(&b, x, y, N);
    bridge_reset(&b);
    hole(x, 0, 5);
    const uint32_t came = through(RATE, x, y, N);
    assert_int_equal(bridge_process(&b, x, again, N), came);
    assert_memory_equal(y, again, came * sizeof *y);
    assert_true(again[0] == 0.f);
}

static void blocks_and_overlap_do_not_matter(void **state)
{
    (void)state;
    static const uint32_t block[] = {1, 5, 32, 333};
    float x[N], whole[N], y[N];
    make_tone(x);
    hole(x, 300, 1);
    hole(x, 302, 40);
    hole(x, 640, 33);
    const uint32_t came = through(RATE, x, whole, N);
    for (int k = 0; k < 4; ++k) {
        memcpy(y, x, sizeof x);
        through(RATE, y, y, block[k]);
        assert_memory_equal(y, whole, came * sizeof *y);
    }
}

/* At the top of a note, next to leaving it 0. */
static void one_sample_is_hardly_heard(void **state)
{
    (void)state;
    float x[N], y[N], sound[N];
    make_tone(x);
    make_tone(sound);
    hole(x, 520, 1);
    through(RATE, x, y, N);
    const double left = fabs((double)(y[520] - sound[520])), was = fabs((double)sound[520]);
    figure_at_most("Bridge", "one hole in 300 Hz: left of its click", 20.0 * log10(left / was), -45, "dB", "our own");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_has_no_hole_passes_as_it_is),
        cmocka_unit_test(a_hole_becomes_a_line),
        cmocka_unit_test(silence_stays),
        cmocka_unit_test(nothing_is_left_of_before_a_reset),
        cmocka_unit_test(blocks_and_overlap_do_not_matter),
        cmocka_unit_test(one_sample_is_hardly_heard),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
