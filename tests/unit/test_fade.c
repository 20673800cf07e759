/* The cross-fade: a raised cosine, exact at both ends. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "click.h"
#include "dsp.h"
#include "fade.h"
#include "figure.h"

static void the_first_side_holds_at_once(void **state)
{
    (void)state;
    for (int on = 0; on < 2; ++on) {
        Fade f;
        fade_init(&f, 48000, 0.02);
        fade_to(&f, on);
        assert_true(fade_rests_at(&f, on) && !fade_rests_at(&f, !on));
        assert_true(fade_step(&f) == on);
    }
}

static void a_restart_lets_the_next_side_hold_at_once(void **state)
{
    (void)state;
    Fade f;
    fade_init(&f, 48000, 0.02);
    fade_to(&f, false);
    fade_restart(&f);
    fade_to(&f, true);
    assert_true(fade_step(&f) == 1.0);
}

/* Either way it takes the time it was given, 960 samples, along 0.5 - 0.5 cos, and ends exactly on the other side. */
static void it_takes_its_time_along_a_raised_cosine(void **state)
{
    (void)state;
    for (int to = 0; to < 2; ++to) {
        Fade f;
        fade_init(&f, 48000, 0.02);
        fade_to(&f, !to);
        fade_to(&f, to);
        for (int i = 0; i < 960; ++i) {
            assert_false(fade_rests_at(&f, to));
            const double rise = 0.5 - 0.5 * cos(DSP_PI * i / 960);
            assert_true(fabs(fade_step(&f) - (to ? rise : 1.0 - rise)) < 1e-9);
        }
        assert_true(fade_rests_at(&f, to));
        assert_true(fade_step(&f) == to);
    }
}

static void turning_back_half_way_does_not_jump(void **state)
{
    (void)state;
    Fade f;
    fade_init(&f, 48000, 0.02);
    fade_to(&f, false);
    double before = 0.0;
    for (int i = 0; i < 4000; ++i) {
        fade_to(&f, i / 300 % 2);
        const double w = fade_step(&f);
        assert_true(w >= 0.0 && w <= 1.0 && fabs(w - before) < 0.5 * DSP_PI / 960 + 1e-12);
        before = w;
    }
}

static void the_shortest_fade_is_one_sample(void **state)
{
    (void)state;
    Fade f;
    fade_init(&f, 48000, 0);
    fade_to(&f, false);
    fade_to(&f, true);
    fade_step(&f);
    assert_true(fade_step(&f) == 1.0 && fade_rests_at(&f, true));
}

/* The 220 Hz sine faded in and out over 20 ms. */
static void a_fade_does_not_click(void **state)
{
    (void)state;
    enum { N = 24000, CHANGE = 12000 };
    static float x[N];
    double worst = -200.0;
    for (int to = 0; to < 2; ++to)
        for (uint32_t phase = 0; phase < 218; phase += 31) {
            Fade f;
            fade_init(&f, 48000, 0.02);
            fade_to(&f, !to);
            for (uint32_t i = 0; i < N; ++i) {
                if (i == CHANGE + phase)
                    fade_to(&f, to);
                x[i] = (float)(fade_step(&f) * (double)click_sine(i, 48000, 0.5));
            }
            worst = fmax(worst, click_level(x, N, CHANGE + phase, 48000, 0.5));
        }
    figure_at_most("Fade", "20 ms, 220 Hz sine in and out: click", worst, -90, "dB", "ours; required: -60");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_first_side_holds_at_once),
        cmocka_unit_test(a_restart_lets_the_next_side_hold_at_once),
        cmocka_unit_test(it_takes_its_time_along_a_raised_cosine),
        cmocka_unit_test(turning_back_half_way_does_not_jump),
        cmocka_unit_test(the_shortest_fade_is_one_sample),
        cmocka_unit_test(a_fade_does_not_click),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
