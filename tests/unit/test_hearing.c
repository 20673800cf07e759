/* Hearing: the levels of its frames are those of the sound, on one channel as on two; a missing sample stays in its own
 * frame. */
#include "hearing.h"

#include "seeds.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#define RATE  48000.0
#define LEVEL 0.001 /* RMS */

enum { FRAMES = 96000, KEPT = 256 };

static float noise[FRAMES];
static HearingFrame heard[KEPT];

static int make_noise(void **state)
{
    (void)state;
    uint32_t random = seeded(1);
    for (uint32_t i = 0; i < FRAMES; ++i) {
        random = random * 1664525U + 1013904223U;
        noise[i] = (float)(LEVEL * sqrt(3.0) * (random / 2147483648.0 - 1.0));
    }
    return 0;
}

/* All frames that are answered, into heard[]; how many. */
static uint32_t hear(const float *x, uint32_t channels)
{
    static Hearing h;
    assert_true(hearing_init(&h, RATE, channels));
    uint32_t count = 0;
    for (uint32_t at = 0; at < FRAMES; at += DSP_CELL) {
        const HearingFrame *frame = hearing_frame(&h);
        if (frame && count < KEPT)
            heard[count++] = *frame;
        hearing_process(&h, (const float *[]){x + at, x + at}, DSP_CELL);
    }
    hearing_done(&h);
    return count;
}

static double mean_power(uint32_t count)
{
    double sum = 0.0;
    for (uint32_t i = 0; i < count; ++i)
        sum += heard[i].power / count;
    return sum;
}

static void power_is_the_mean_square_of_a_channel(void **state)
{
    (void)state;
    for (uint32_t channels = 1; channels <= 2; ++channels) {
        const uint32_t count = hear(noise, channels);
        assert_true(count > 100);
        assert_true(fabs(power_to_db(mean_power(count)) - gain_to_db(LEVEL)) < 0.1);
        for (uint32_t i = 0; i < count; ++i)
            assert_true(!heard[i].silent && heard[i].hz == 0.0);
    }
}

static void digital_silence_is_told(void **state)
{
    (void)state;
    static float silence[FRAMES];
    const uint32_t count = hear(silence, 1);
    assert_true(count > 100);
    for (uint32_t i = 0; i < count; ++i)
        assert_true(heard[i].silent && heard[i].power == 0.0);
}

/* The frames after it are as they were. */
static void a_missing_sample_stays_in_its_frame(void **state)
{
    (void)state;
    static HearingFrame whole[KEPT];
    static float gap[FRAMES];
    const uint32_t count = hear(noise, 1);
    memcpy(whole, heard, sizeof whole);
    memcpy(gap, noise, sizeof gap);
    gap[20000] = 0.f;
    assert_int_equal(hear(gap, 1), count);
    for (uint32_t i = 0; i < count; ++i) {
        assert_true(fabs(heard[i].power / whole[i].power - 1.0) < 0.05);
        assert_true(fabs(heard[i].room / whole[i].room - 1.0) < 0.2);
    }
}

/* The pitch comes 0.4 s later, and belongs to the frame that it was heard in: a note from 0.5 to 1.2 s has it there,
 * one that is no multiple of the mains. */
static void a_frame_has_its_own_pitch(void **state)
{
    (void)state;
    static float note[FRAMES];
    for (uint32_t i = 24000; i < 57600; ++i)
        for (int k = 1; k <= 5; ++k)
            note[i] += (float)(0.1 / k * sin(2.0 * DSP_PI * 233.0 * k * i / RATE));
    const uint32_t count = hear(note, 1);
    assert_true(count > 150);
    for (uint32_t i = 0; i < count; ++i) {
        if (i < 47 || i > 122)
            assert_true(heard[i].hz == 0.0);
        if (i > 52 && i < 117)
            assert_true(fabs(heard[i].hz / 233.0 - 1.0) < 0.005 && heard[i].room > 1e-6);
    }
}

/* When a frame is answered, the window that ends with it is still there, at every rate; who does not ask for a hum
 * hears none. */
static void a_hum_can_be_looked_for_in_each_window(void **state)
{
    (void)state;
    static const double rates[] = {DSP_RATE_MIN, 15999.0, 44100.0, 96000.0, DSP_RATE_MAX};
    for (size_t r = 0; r < sizeof rates / sizeof *rates; ++r) {
        Hearing h;
        assert_true(hearing_init(&h, rates[r], 1));
        hearing_process(&h, (const float *[]){noise}, DSP_CELL);
        assert_true(hum_heard(&h.hum) == 0);
        hearing_reset(&h);
        assert_true(hearing_hear_hum(&h));
        uint32_t looked = 0;
        for (uint32_t at = 0; at < rates[r]; at += DSP_CELL) {
            const HearingFrame *frame = hearing_frame(&h);
            h.hum.busy = false;
            if (frame)
                hum_look(&h.hum, frame->end);
            looked += h.hum.busy;
            assert_true(!frame || h.hum.busy || frame->end < h.hum.window);
            hearing_process(&h, (const float *[]){noise + at % (FRAMES - DSP_CELL)}, DSP_CELL);
        }
        assert_true(looked > 20);
        hearing_done(&h);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(power_is_the_mean_square_of_a_channel),  cmocka_unit_test(digital_silence_is_told),
        cmocka_unit_test(a_missing_sample_stays_in_its_frame),    cmocka_unit_test(a_frame_has_its_own_pitch),
        cmocka_unit_test(a_hum_can_be_looked_for_in_each_window),
    };
    return cmocka_run_group_tests(tests, make_noise, NULL);
}
