/* The shell round a processor that only notes how it is called: when it hears of its controls, in which order, and on
 * which grid. The plug-ins of the bundle are tried in test_bundle.c and the others. */
#include "shell.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

/* ---- The processor ---- */

enum { LETTERS = 4096 };

/* S: set, R: report, T: tick, and a small letter for a piece: a for one sample, b for two or more. */
static char calls[LETTERS];
static uint32_t called, samples;
static float last_set;

static void note(char letter)
{
    assert_true(called + 1 < LETTERS);
    calls[called++] = letter;
    calls[called] = '\0';
}

static uint32_t count(char letter)
{
    uint32_t n = 0;
    for (const char *c = calls; *c; ++c)
        n += *c == letter;
    return n;
}

static bool noter_init(void *dsp, double rate, uint32_t channels)
{
    (void)dsp;
    return rate > 0.0 && channels > 0;
}

static void noter_nothing(void *dsp)
{
    (void)dsp;
}

static void noter_set(void *dsp, const void *params)
{
    (void)dsp;
    last_set = *(const float *)params;
    note('S');
}

static void noter_tick(void *dsp)
{
    (void)dsp;
    assert_int_equal(samples % DSP_CELL, 0);
    note('T');
}

static void noter_cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    (void)dsp;
    samples += n;
    note(n == 1 ? 'a' : 'b');
    memcpy(out[0], in[0], n * sizeof *out[0]);
}

static const Processor noter = {
    .size = sizeof(int),
    .init = noter_init,
    .done = noter_nothing,
    .reset = noter_nothing,
    .set = noter_set,
    .tick = noter_tick,
    .cell = noter_cell,
};

/* ---- Its plug-in ---- */

enum { LEVEL, STEPS, SEEN, PORTS };

static const ShellPort port[PORTS] = {
    [LEVEL] = {"level", SHELL_CONTROL, false, 0.f, -1.f, 1.f, 0.01},
    [STEPS] = {"steps", SHELL_CONTROL, true, 2.f, 0.f, 4.f, 1},
    [SEEN] = {"seen", SHELL_METER, false, 0.f, -1.f, 1.f, 0.25},
};
static const ShellVariant variant[SHELL_VARIANTS] = {{"urn:test:noter", 1, 1}, {"urn:test:noter-stereo", 2, 2}};

static void set(void *dsp, const float *control)
{
    const float sum = control[LEVEL] + control[STEPS];
    noter.set(dsp, &sum);
}

static void report(const void *dsp, float *meter)
{
    (void)dsp;
    meter[SEEN] = last_set;
    note('R');
}

const ShellPlugin shell_plugin = {
    .processor = &noter,
    .variant = variant,
    .port = port,
    .ports = PORTS,
    .set = set,
    .report = report,
};

SHELL_DESCRIPTORS("urn:test:noter", "urn:test:noter-stereo");

/* ---- A host ---- */

static float level, steps, seen;

static LV2_Handle start(void)
{
    LV2_Handle h = shell_instantiate(&shell_descriptor[0], 48000.0, "", NULL);
    assert_non_null(h);
    level = 0.5f;
    steps = 2.f;
    float *const ports[PORTS] = {[LEVEL] = &level, [STEPS] = &steps, [SEEN] = &seen};
    for (uint32_t p = 0; p < PORTS; ++p)
        shell_connect_port(h, p, ports[p]);
    called = samples = 0;
    calls[0] = '\0';
    shell_activate(h);
    return h;
}

static void run(LV2_Handle h, uint32_t n)
{
    static float in[1024], out[1024];
    assert_in_range(n, 0, 1024);
    shell_connect_port(h, PORTS, in);
    shell_connect_port(h, PORTS + 1, out);
    shell_run(h, n);
}

/* ---- Tests ---- */

/* To the step of its port, which is what a person can read of it, and within its range. */
static void read_outs_are_rounded(void **state)
{
    (void)state;
    static const float shown[][2] = {{0.3f, 0.25f}, {0.2f, 0.25f}, {0.12f, 0.f}, {-0.9f, -1.f}, {0.99f, 1.f}};
    LV2_Handle h = start();
    steps = 0.f;
    for (size_t i = 0; i < sizeof shown / sizeof *shown; ++i) {
        level = shown[i][0];
        run(h, 64);
        run(h, 64);
        assert_true(seen == shown[i][1]);
    }
    steps = 4.f;
    run(h, 64);
    run(h, 64);
    assert_true(seen == 1.f);
    shell_cleanup(h);
}

static void controls_that_stand_still_are_not_handed_on(void **state)
{
    (void)state;
    LV2_Handle h = start();
    run(h, 0);
    assert_int_equal(called, 0);
    for (int i = 0; i < 10; ++i)
        run(h, 256);
    assert_int_equal(count('S'), 1);
    assert_int_equal(count('T'), 80);
    level = 0.75f;
    for (int i = 0; i < 10; ++i)
        run(h, 256);
    assert_int_equal(count('S'), 2);
    shell_cleanup(h);
}

/* What counts is the value that the plug-in gets: held in its range, whole where the port is, the default for NaN. */
static void a_move_that_comes_to_nothing_is_none(void **state)
{
    (void)state;
    LV2_Handle h = start();
    level = 1.f;
    run(h, 64);
    level = 7.f;
    steps = 2.2f;
    run(h, 64);
    steps = NAN;
    run(h, 64);
    assert_int_equal(count('S'), 1);
    steps = 2.6f;
    run(h, 64);
    assert_int_equal(count('S'), 2);
    assert_true(last_set == 4.f);
    shell_cleanup(h);
}

static void every_activate_hands_them_on_again(void **state)
{
    (void)state;
    LV2_Handle h = start();
    run(h, 40);
    shell_activate(h);
    samples = 0;
    run(h, 40);
    assert_int_equal(count('S'), 2);
    shell_cleanup(h);
}

static void a_move_takes_effect_at_the_next_grid_point(void **state)
{
    (void)state;
    LV2_Handle h = start();
    run(h, 20);
    level = -1.f;
    run(h, 12); /* ends on a grid point: it is the next run's */
    assert_true(last_set == 2.5f);
    level = 0.25f;
    run(h, 1);
    assert_true(last_set == 2.25f);
    assert_int_equal(count('S'), 2);
    shell_cleanup(h);
}

static void the_order_at_a_grid_point_is_set_report_tick(void **state)
{
    (void)state;
    LV2_Handle h = start();
    run(h, 33);
    assert_string_equal(calls, "SRTbRTa");
    level = 0.f;
    run(h, 63);
    assert_string_equal(calls, "SRTbRTabSRTb");
    shell_cleanup(h);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(read_outs_are_rounded),
        cmocka_unit_test(controls_that_stand_still_are_not_handed_on),
        cmocka_unit_test(a_move_that_comes_to_nothing_is_none),
        cmocka_unit_test(every_activate_hands_them_on_again),
        cmocka_unit_test(a_move_takes_effect_at_the_next_grid_point),
        cmocka_unit_test(the_order_at_a_grid_point_is_set_report_tick),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
