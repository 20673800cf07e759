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

/* S: set, R: report, T: tick, P: pause, and a small letter for a piece: a for one sample, b for two or more. */
static char calls[LETTERS];
static uint32_t called, samples, pauses;
static float last_set, gain = 1.f;
static bool has_news = true;

typedef struct {
    uint32_t ticks, news;
} Noter;

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
    Noter *n = dsp;
    ++n->ticks;
    n->news += has_news;
    assert_int_equal(samples % DSP_CELL, 0);
    note('T');
}

static void noter_cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    (void)dsp;
    samples += n;
    note(n == 1 ? 'a' : 'b');
    for (uint32_t k = 0; k < n; ++k)
        out[0][k] = gain * in[0][k];
}

/* Takes so many steps. */
enum { PAUSES = 5 };

static bool noter_pause(void *dsp)
{
    (void)dsp;
    note('P');
    return ++pauses == PAUSES;
}

static const Processor noter = {
    .size = sizeof(Noter),
    .init = noter_init,
    .done = noter_nothing,
    .reset = noter_nothing,
    .set = noter_set,
    .tick = noter_tick,
    .cell = noter_cell,
    .pause = noter_pause,
    .news = offsetof(Noter, news),
};

/* ---- Its plug-in ---- */

enum { LEVEL, STEPS, ENABLED, SEEN, DOUBLED, TRIPLED, TWELVE, SIGN, LATENCY, PORTS };

static const ShellPort port[PORTS] = {
    [LEVEL] = {"level", SHELL_CONTROL, false, 0.f, -1.f, 1.f, 0.01},
    [STEPS] = {"steps", SHELL_CONTROL, true, 2.f, 0.f, 4.f, 1},
    [ENABLED] = {"enabled", SHELL_CONTROL, true, 1.f, 0.f, 1.f, 1},
    [SEEN] = {"seen", SHELL_METER, false, 0.f, -1.f, 1.f, 0.25},
    [DOUBLED] = {"doubled", SHELL_METER, false, 0.f, -10.f, 10.f, 0.25},
    [TRIPLED] = {"tripled", SHELL_METER, false, 0.f, -10.f, 10.f, 0.25},
    [TWELVE] = {"twelve", SHELL_METER, true, 12.f, 0.f, 20.f, 1},
    [SIGN] = {"sign", SHELL_METER, true, 0.f, -1.f, 1.f, 1},
    [LATENCY] = {"latency", SHELL_METER, true, 0.f, 0.f, 64.f, 1},
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
    meter[DOUBLED] = 2.f * last_set;
    meter[TRIPLED] = 3.f * last_set;
    meter[TWELVE] = 12.f;
    meter[SIGN] = last_set < 0.f ? -1.f : 1.f;
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

static float level, steps, enabled, seen, meters[PORTS];

static LV2_Handle start(void)
{
    LV2_Handle h = shell_instantiate(&shell_descriptor[0], 48000.0, "", NULL);
    assert_non_null(h);
    level = 0.5f;
    steps = 2.f;
    enabled = 1.f;
    float *const ports[] = {[LEVEL] = &level, [STEPS] = &steps, [ENABLED] = &enabled, [SEEN] = &seen};
    for (uint32_t p = 0; p <= SEEN; ++p)
        shell_connect_port(h, p, ports[p]);
    called = samples = pauses = 0;
    calls[0] = '\0';
    shell_activate(h);
    return h;
}

/* What is called from now on is looked at. */
static void listen(void)
{
    called = samples = pauses = 0;
    calls[0] = '\0';
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

/* Read-outs where the last `set` was so much, under 0. */
static void assert_read_outs(const float *at, size_t apart, float set_to)
{
    assert_true(at[0] == set_to && at[apart] == 2.f * set_to && at[2 * apart] == 3.f * set_to);
    assert_true(at[3 * apart] == 12.f && at[4 * apart] == -1.f && at[5 * apart] == 0.f);
}

/* In every run, the latency in one without frames too, wherever a host wants them: in a row, or one here and one
 * there; and though it has written there itself. */
static void read_outs_are_written_in_every_run(void **state)
{
    (void)state;
    enum { PLACES = LATENCY + 1 - SEEN };
    static float memory[3 * PLACES];
    for (size_t apart = 1; apart <= 3; ++apart) {
        LV2_Handle h = start();
        level = -0.5f;
        steps = 0.f;
        for (uint32_t k = 0; k < PLACES; ++k)
            shell_connect_port(h, SEEN + k, memory + k * apart);
        for (int times = 0; times < 3; ++times) {
            for (uint32_t k = 0; k < 3 * PLACES; ++k)
                memory[k] = NAN;
            run(h, 0);
            assert_true(memory[(PLACES - 1) * apart] == 0.f && isnan(memory[0]));
            run(h, times == 1 ? 7 : 64);
            assert_read_outs(memory, apart, -0.5f);
            for (uint32_t k = 0; k < 3 * PLACES; ++k)
                assert_true(isnan(memory[k]) == (k % apart != 0 || k >= PLACES * apart));
        }
        shell_cleanup(h);
    }
}

/* In a row at first, then one of them elsewhere, and back again, and one nowhere. */
static void a_read_out_may_move(void **state)
{
    (void)state;
    enum { PLACES = LATENCY + 1 - SEEN };
    LV2_Handle h = start();
    for (uint32_t p = SEEN; p < PORTS; ++p)
        shell_connect_port(h, p, meters + p);
    level = -0.5f;
    steps = 0.f;
    float elsewhere = NAN;
    for (uint32_t p = SEEN; p < PORTS; ++p) {
        for (int nowhere = 0; nowhere < 2; ++nowhere) {
            shell_connect_port(h, p, nowhere ? NULL : &elsewhere);
            meters[p] = 99.f;
            run(h, 64);
            assert_true(meters[p] == 99.f);
            shell_connect_port(h, p, meters + p);
            run(h, 64);
            assert_read_outs(meters + SEEN, 1, -0.5f);
            assert_true(elsewhere == meters[p]);
        }
    }
    shell_cleanup(h);
}

/* A processor that counts its news is asked when there are some, when a control moved and when it begins anew. */
static void without_news_nothing_is_reported(void **state)
{
    (void)state;
    LV2_Handle h = start();
    run(h, 64);
    run(h, 64);
    has_news = false;
    run(h, 64);
    listen();
    run(h, 64);
    run(h, 64);
    assert_int_equal(count('R'), 0);
    level = -0.5f;
    run(h, 64);
    assert_int_equal(count('R'), 1);
    shell_activate(h);
    run(h, 64);
    assert_int_equal(count('R'), 2);
    has_news = true;
    run(h, 64); /* the last grid point's news are told of at the next */
    run(h, 64);
    assert_int_equal(count('R'), 4);
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

/* It reports at the last grid point of a run: no host sees the others. */
static void the_order_at_a_grid_point_is_set_report_tick(void **state)
{
    (void)state;
    LV2_Handle h = start();
    run(h, 33);
    assert_string_equal(calls, "STbRTa");
    level = 0.f;
    run(h, 63);
    assert_string_equal(calls, "STbRTabSRTb");
    run(h, 0);
    run(h, 65);
    assert_string_equal(calls, "STbRTabSRTbTbTbRTa");
    shell_cleanup(h);
}

/* ---- Off ---- */

static void run_long(LV2_Handle h, double seconds)
{
    for (double left = seconds * 48000.0; left > 0.0; left -= 256.0)
        run(h, 256);
}

/* The fades take 20 ms each, and silence is heard up to 100 ms from where the second begins. */
static void off_the_processor_hears_silence_and_then_sleeps(void **state)
{
    (void)state;
    LV2_Handle h = start();
    run_long(h, 0.1);
    listen();
    enabled = 0.f;
    run_long(h, 0.115);
    assert_true(count('T') == count('b') && samples >= 0.115 * 48000.0);
    assert_int_equal(count('P'), 0);
    run_long(h, 0.01);
    assert_int_equal(count('P'), PAUSES);
    assert_int_equal(samples, 0.12 * 48000.0);
    listen();
    run_long(h, 1.0);
    assert_int_equal(called, 0);
    shell_cleanup(h);
}

static void asleep_it_hears_of_its_controls_and_reports_once(void **state)
{
    (void)state;
    LV2_Handle h = start();
    enabled = 0.f;
    run_long(h, 0.1);
    assert_int_equal(samples, 0);
    listen();
    level = 0.25f;
    run_long(h, 0.1);
    assert_string_equal(calls, "SR");
    assert_true(seen == 1.f); /* 2.25, held in the port's range */
    shell_cleanup(h);
}

/* First what it has left to clear is cleared, then it hears what comes in fade in, for 100 ms, before it is heard. */
static void awake_again_it_is_heard_when_it_has_settled(void **state)
{
    (void)state;
    static float in[256], out[256];
    LV2_Handle h = start();
    enabled = 0.f;
    run(h, 64);
    assert_int_equal(count('P'), 2);
    enabled = 1.f;
    listen();
    pauses = 2;
    gain = -1.f;
    uint32_t heard_from = 0;
    for (uint32_t k = 0; k < 256; ++k)
        in[k] = 0.5f;
    shell_connect_port(h, PORTS, in);
    shell_connect_port(h, PORTS + 1, out);
    for (uint32_t at = 0; at < 9600 && !heard_from; at += 32) {
        shell_run(h, 32);
        for (uint32_t k = 32; k > 0; --k)
            heard_from = out[k - 1] == 0.5f ? heard_from : at + k - 1;
    }
    gain = 1.f;
    assert_int_equal(pauses, PAUSES);
    assert_int_equal(count('P'), PAUSES - 2);
    /* Cleared in two cells besides the one before, settled for 4800 samples, and the fade's first weight is 0. */
    assert_int_equal(heard_from, (PAUSES - 2) * 32 + 4800 + 1);
    shell_cleanup(h);
}

/* No sleep in between: it is heard without a break. */
static void turned_back_in_its_fade_it_never_sleeps(void **state)
{
    (void)state;
    LV2_Handle h = start();
    run_long(h, 0.1);
    listen();
    enabled = 0.f;
    run(h, 256);
    enabled = 1.f;
    run_long(h, 0.3);
    assert_int_equal(count('P'), 0);
    assert_true(samples > 0.3 * 48000.0);
    shell_cleanup(h);
}

/* ---- Memory ---- */

/* Wherever the output lies, it is what it is apart from the input. */
static void an_output_may_lie_across_the_input(void **state)
{
    (void)state;
    static float memory[1024];
    for (int shift = -40; shift <= 40; shift += 8) {
        LV2_Handle h = start();
        for (uint32_t k = 0; k < 1024; ++k)
            memory[k] = (float)k / 1024.f;
        shell_connect_port(h, PORTS, memory + 100);
        shell_connect_port(h, PORTS + 1, memory + 100 + shift);
        shell_run(h, 32);
        for (uint32_t k = 0; k < 32; ++k)
            assert_true(memory[100 + shift + (int)k] == (float)(100 + k) / 1024.f);
        shell_cleanup(h);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(read_outs_are_rounded),
        cmocka_unit_test(read_outs_are_written_in_every_run),
        cmocka_unit_test(a_read_out_may_move),
        cmocka_unit_test(without_news_nothing_is_reported),
        cmocka_unit_test(controls_that_stand_still_are_not_handed_on),
        cmocka_unit_test(a_move_that_comes_to_nothing_is_none),
        cmocka_unit_test(every_activate_hands_them_on_again),
        cmocka_unit_test(a_move_takes_effect_at_the_next_grid_point),
        cmocka_unit_test(the_order_at_a_grid_point_is_set_report_tick),
        cmocka_unit_test(off_the_processor_hears_silence_and_then_sleeps),
        cmocka_unit_test(asleep_it_hears_of_its_controls_and_reports_once),
        cmocka_unit_test(awake_again_it_is_heard_when_it_has_settled),
        cmocka_unit_test(turned_back_in_its_fade_it_never_sleeps),
        cmocka_unit_test(an_output_may_lie_across_the_input),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
