/* Rests: which frames a block is the mean of, when one is found, and what ends a rest. */
#include "rests.h"

#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* A frame without a voice; its power tells it from others. */
static RestFound still(Rests *r, double power)
{
    return rests_hear(r, &(HearingFrame){.power = power});
}

static void voice(Rests *r)
{
    const RestFound found = rests_hear(r, &(HearingFrame){.power = 1.0, .hz = 200.0});
    assert_true(!found.block && !found.window);
}

/* 50 ms after a voice and 90 ms before the next a block of 80 ms begins and ends; from then on every fourth frame. */
static void a_block_is_the_mean_of_its_own_frames(void **state)
{
    (void)state;
    Rests r = {0};
    voice(&r);
    uint32_t blocks = 0;
    for (uint32_t k = 1; k <= 100; ++k) { /* the k-th frame has power k */
        const RestFound found = still(&r, k);
        assert_true(found.block == (k >= 22 && k % 4 == 1));
        if (!found.block)
            continue;
        const double middle = k - 16 + 3.5; /* frames k - 16 to k - 9 */
        assert_true(fabs(found.block_db - power_to_db(middle)) < 1e-9);
        ++blocks;
    }
    assert_int_equal(blocks, 19);
}

/* From 250 ms after a voice on a window for hum ends with every frame: the mean of its own frames. */
static void a_window_is_found_in_an_unbroken_rest(void **state)
{
    (void)state;
    Rests r = {0};
    voice(&r);
    for (uint32_t k = 1; k <= 100; ++k) { /* the k-th frame has power k */
        const RestFound found = still(&r, k);
        assert_true(found.window == (k >= REST_WINDOW));
        assert_true(!found.window || fabs(found.window_db - power_to_db(k - 12)) < 1e-9);
    }
}

/* What a room leaves of a voice, 20 dB under it, has a pitch still: a window goes on across it, a block does not. */
static void a_window_goes_on_while_a_room_rings(void **state)
{
    (void)state;
    static const double power[] = {0.009, 0.011};
    for (int under = 0; under < 2; ++under) {
        Rests r = {0};
        voice(&r);
        for (uint32_t k = 1; k < REST_WINDOW; ++k)
            assert_false(still(&r, 0.001).window);
        const RestFound found = rests_hear(&r, &(HearingFrame){.power = power[under], .hz = 200.0});
        assert_true(found.window == (under == 0) && r.length == 0);
    }
}

static void a_voice_ends_a_rest(void **state)
{
    (void)state;
    Rests r = {0};
    for (int turn = 0; turn < 5; ++turn) {
        for (int k = 0; k < 20; ++k) {
            const RestFound found = still(&r, 1.0);
            assert_true(!found.block && !found.window);
        }
        voice(&r);
    }
}

/* Digital silence is no part of a rest: levels go on behind it as if it had not been, hum has to begin again. */
static void digital_silence_tells_nothing(void **state)
{
    (void)state;
    Rests r = {0};
    voice(&r);
    for (uint32_t k = 1; k <= 20; ++k)
        still(&r, 2.0);
    for (uint32_t k = 0; k < 30; ++k) {
        const RestFound found = rests_hear(&r, &(HearingFrame){.silent = true});
        assert_true(!found.block && !found.window);
    }
    for (uint32_t k = 21; k <= 47; ++k) {
        const RestFound found = still(&r, 2.0);
        assert_true(found.block == (k % 4 == 1 && k >= 22));
        assert_true(!found.block || fabs(found.block_db - power_to_db(2.0)) < 1e-9);
        assert_true(found.window == (k >= 20 + REST_WINDOW));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_block_is_the_mean_of_its_own_frames),
        cmocka_unit_test(a_window_is_found_in_an_unbroken_rest),
        cmocka_unit_test(a_window_goes_on_while_a_room_rings),
        cmocka_unit_test(a_voice_ends_a_rest),
        cmocka_unit_test(digital_silence_tells_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
