/* A take in frames: where they lie, and what they hold. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "loudness.h"
#include "take_frames.h"
#include "units.h"

#define RATE 48000.0

enum { FRAMES = 400 };

static TakeFrame frame[FRAMES];

static void assert_near(double is, double wanted, double within)
{
    assert_true(fabs(is - wanted) <= within);
}

/* A tone with harmonics from 1 s to 2 s, silence before and after; `right`: the level of a second channel. */
static uint32_t heard(uint32_t channels, float right)
{
    static TakeFrames t;
    uint32_t n = 0;
    assert_true(take_frames_init(&t, RATE, channels));
    for (uint32_t at = 0; at < 4 * (uint32_t)RATE; at += DSP_CELL) {
        float x[2][DSP_CELL];
        for (uint32_t i = 0; i < DSP_CELL; ++i) {
            const double s = (at + i) / RATE, loud = s >= 1.0 && s < 2.0 ? 0.2 : 0.0;
            double sum = 0.0;
            for (int k = 1; k <= 8; ++k)
                sum +=
                    sin(k * (2.0 * DSP_PI * 200.0 * s + 0.8 * sin(2.0 * DSP_PI * 5.0 * s))) / k; /* a vibrato of 4 Hz */
            x[0][i] = (float)(loud * sum);
            x[1][i] = right * x[0][i];
        }
        n += take_frames_next(&t, &frame[n]);
        assert_true(n < FRAMES);
        take_frames_process(&t, (const float *[]){x[0], x[1]}, DSP_CELL);
    }
    take_frames_done(&t);
    return n;
}

static void frames_lie_where_they_say(void **state)
{
    (void)state;
    const uint32_t n = heard(1, 0.f);
    assert_in_range(n, 340, 370); /* 4 s but for the lateness of the answers */
    assert_true(power_to_db((double)frame[98].weighted) < -60.0);
    assert_true(power_to_db((double)frame[101].weighted) > -20.0);
    assert_true(power_to_db((double)frame[198].weighted) > -20.0);
    assert_true(power_to_db((double)frame[203].weighted) < -40.0);
    for (uint32_t i = 110; i < 190; ++i)
        assert_near((double)frame[i].hz, 200.0, 6.0);
    assert_true(frame[50].hz == 0.f);
}

static void levels_are_those_of_the_sound(void **state)
{
    (void)state;
    static Loudness l;
    heard(1, 0.f);
    /* The mean square of the eight partials, and what K weighting makes of it, by the meter that was checked. */
    double sum = 0.0, all = 0.0;
    for (int k = 1; k <= 8; ++k)
        sum += 0.5 * 0.04 / (k * k);
    loudness_init(&l, RATE, 1);
    for (uint32_t at = 0; at < 48000; ++at) {
        double x = 0.0;
        for (int k = 1; k <= 8; ++k)
            x += sin(2.0 * DSP_PI * 200.0 * k * at / RATE) / k;
        const float y = (float)(0.2 * x);
        loudness_process(&l, (const float *[]){&y}, 1);
    }
    double mean = 0.0;
    for (uint32_t i = 120; i < 180; ++i)
        mean += (double)frame[i].weighted / 60.0;
    assert_near(power_to_db(mean), loudness_integrated(&l) + 0.691, 0.1);
    for (int b = 0; b < REST_BANDS; ++b)
        all += (double)frame[150].band[b];
    assert_true(all < 1.5 * sum && all > 0.2 * sum);
    assert_true(frame[150].band[0] > frame[150].band[3]);
}

/* Energy is summed over the channels, a band's is a channel's. */
static void two_channels_are_heard_together(void **state)
{
    (void)state;
    heard(1, 0.f);
    const TakeFrame one = frame[150];
    heard(2, 1.f);
    assert_near((double)frame[150].weighted / (double)one.weighted, 2.0, 0.01);
    assert_near((double)frame[150].band[1] / (double)one.band[1], 1.0, 0.01);
    heard(2, 0.f); /* a living one stands in for a dead one */
    assert_near((double)frame[150].weighted / (double)one.weighted, 2.0, 0.01);
}

static void what_cannot_be_is_refused(void **state)
{
    (void)state;
    static TakeFrames t;
    assert_false(take_frames_init(&t, 4000.0, 1));
    assert_false(take_frames_init(&t, RATE, 3));
    take_frames_done(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(frames_lie_where_they_say),
        cmocka_unit_test(levels_are_those_of_the_sound),
        cmocka_unit_test(two_channels_are_heard_together),
        cmocka_unit_test(what_cannot_be_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
