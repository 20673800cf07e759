/* The parts of hum_follower.h, from tables: which windows lie in rests, and how harmonics come and go. */
#include "hum_follower_out.h"
#include "hum_follower_rests.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

enum { CELLS = 30, BLOCK = CELLS * DSP_CELL, SECOND = 50 /* blocks */ };

static HumFollower *follower(uint32_t channels)
{
    HumFollower *const f = calloc(1, sizeof *f);
    assert_non_null(f);
    follower_init(f, 48000.0, channels);
    f->cells = CELLS;
    f->harmonics = 2;
    return f;
}

/* ---- Rests ---- */

/* So many blocks of this power. */
static void hear(HumFollower *f, uint32_t blocks, double power)
{
    for (; blocks; --blocks, ++f->block) {
        f->left = power * BLOCK * f->channels;
        follower_hear_rest(f);
    }
}

static void a_rest_is_nearly_as_weak_as_the_weakest(void **state)
{
    (void)state;
    for (int louder = 0; louder < 2; ++louder) {
        HumFollower *const f = follower(2);
        f->weakest = 1.0;
        hear(f, 6, 2.9 + 0.2 * louder);
        assert_true(!f->quiet && f->begins == 0 && f->weakest == 1.0); /* no window yet */
        hear(f, 1, 2.9 + 0.2 * louder);
        assert_true(f->quiet == !louder && f->begins == (louder ? 0 : 6));
        hear(f, 3, 2.9 + 0.2 * louder);
        assert_true(f->begins == (louder ? 0 : 6));
        free(f);
    }
}

/* A window is seven blocks. The weakest falls at once, to 10^-16 at the least, and rises by 1 dB a second. */
static void the_weakest_window_is_forgotten_slowly(void **state)
{
    (void)state;
    HumFollower *const f = follower(1);
    f->weakest = 1.0;
    hear(f, 6, 0.01);
    hear(f, 1, 0.15);
    assert_true(fabs(f->weakest - (6 * 0.01 + 0.15) / 7.0) < 1e-9);
    hear(f, 6, 0.01);
    hear(f, 1, 0.01);
    assert_true(fabs(f->weakest - 0.01) < 1e-9);
    hear(f, SECOND, 5.0);
    assert_true(fabs(power_to_db(f->weakest / 0.01) - 1.0) < 0.001 && !f->quiet);
    hear(f, 7, 0.0);
    assert_true(f->weakest == 1e-16);
    free(f);
}

/* What was learned in what was no rest counts for less; but not of a hum that is known from before. */
static void a_weaker_rest_is_learned_in_anew(void **state)
{
    (void)state;
    for (int known = 0; known < 2; ++known)
        for (int weaker = 0; weaker < 2; ++weaker) {
            HumFollower *const f = follower(2);
            const bool anew = weaker && !known;
            f->weakest = f->learned_at = 1.0;
            f->known = known;
            for (uint32_t c = 0; c < 2; ++c) {
                f->channel[c].usual[0] = f->channel[c].usual[1] = 4.f;
                f->channel[c].doubt[0] = 1.f;
                f->channel[c].doubt[1] = 9.f;
                f->channel[c].usual[2] = 4.f; /* there is no third harmonic */
            }
            hear(f, 7, weaker ? 0.49 : 0.51);
            for (uint32_t c = 0; c < 2; ++c) {
                assert_true(f->channel[c].usual[0] == (anew ? 2.f : 4.f) &&
                            f->channel[c].usual[1] == (anew ? 2.f : 4.f));
                assert_true(f->channel[c].doubt[0] == (anew ? 4.f : 1.f) && f->channel[c].doubt[1] == 9.f);
                assert_true(f->channel[c].usual[2] == 4.f);
            }
            assert_true(fabs(f->learned_at - (anew ? 0.49 : 1.0)) < 1e-9);
            free(f);
        }
}

/* ---- Out ---- */

/* A harmonic comes where either channel is sure of it, with a time constant of 0.1 s, five blocks. */
static void harmonics_that_are_sure_come(void **state)
{
    (void)state;
    for (uint32_t which = 0; which < 2; ++which) {
        HumFollower *const f = follower(2);
        f->wanted[0] = f->wanted[1] = 0.8f;
        f->channel[which].sure[0] = true;
        for (int block = 0; block < 5; ++block)
            follower_fade(f);
        assert_true(!f->puts_out && f->amount[0] == 0.f); /* the hum is not */
        f->sure = true;
        for (int block = 0; block < 5; ++block)
            follower_fade(f);
        assert_true(f->puts_out && fabs((double)f->amount[0] - 0.8 * (1.0 - exp(-1.0))) < 1e-6 && f->amount[1] == 0.f);
        free(f);
    }
}

/* With one channel, the other's is no matter. */
static void one_channel_decides_alone(void **state)
{
    (void)state;
    HumFollower *const f = follower(1);
    f->wanted[0] = 1.f;
    f->sure = f->channel[1].sure[0] = true;
    follower_fade(f);
    assert_true(f->amount[0] == 0.f && !f->puts_out);
    free(f);
}

/* Under a ten-thousandth it is gone, and all that is left of it; until then it goes on. */
static void harmonics_go(void **state)
{
    (void)state;
    HumFollower *const f = follower(2);
    for (uint32_t c = 0; c < 2; ++c) {
        FollowerChannel *const ch = &f->channel[c];
        ch->out[3] = ch->put.re[0] = ch->put.im[0] = 1.f;
        ch->here = ch->ahead = ch->slope = ch->slope_here = 1.f;
    }
    f->amount[0] = 1.3e-4f;
    f->amount[1] = 1.1e-4f;
    f->amount[2] = 1.f; /* there is no third harmonic */
    follower_fade(f);
    assert_true(fabs((double)f->amount[0] / (1.3e-4 * exp(-0.2)) - 1.0) < 1e-5 && f->amount[1] == 0.f);
    assert_true(f->puts_out && f->channel[0].put.re[0] == 1.f);
    follower_fade(f);
    assert_true(f->amount[0] == 0.f && !f->puts_out);
    for (uint32_t c = 0; c < 2; ++c) {
        const FollowerChannel *const ch = &f->channel[c];
        assert_true(ch->out[3] == 0.f && ch->put.re[0] == 0.f && ch->put.im[0] == 0.f);
        assert_true(ch->here == 0.f && ch->ahead == 0.f && ch->slope == 0.f && ch->slope_here == 0.f);
    }
    free(f);
}

/* What is wanted, however little, is not cut off on its way in. */
static void the_first_step_in_may_be_small(void **state)
{
    (void)state;
    HumFollower *const f = follower(1);
    f->sure = f->channel[0].sure[0] = true;
    f->wanted[0] = 1e-5f;
    follower_fade(f);
    assert_true(f->amount[0] > 0.f && f->puts_out);
    free(f);
}

/* 120 points of 8 samples a block. */
static void it_glides_in_a_straight_line(void **state)
{
    (void)state;
    HumFollower *const f = follower(2);
    f->amount[0] = 0.5f;
    f->amount[1] = f->amount[2] = 1.f;
    for (uint32_t c = 0; c < 2; ++c) {
        f->channel[c].hum.re[0] = f->channel[c].hum.im[1] = 2.f;
        f->channel[c].put.re[0] = 0.4f;
        f->channel[c].put.re[2] = 7.f;
        f->channel[c].put.im[1] = c ? 3.f : 0.f;
    }
    follower_aim(f);
    assert_true(fabs((double)f->channel[1].glide.re[0] * 120.0 - 0.6) < 1e-6);
    assert_true(fabs((double)f->channel[0].glide.im[1] * 120.0 - 2.0) < 1e-6);
    assert_true(fabs((double)f->channel[1].glide.im[1] * 120.0 + 1.0) < 1e-6);
    assert_true(f->channel[0].glide.im[0] == 0.f && fabs(f->put_energy - 0.5 * (0.16 + 0.16 + 9.0)) < 1e-6);
    free(f);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_rest_is_nearly_as_weak_as_the_weakest),
        cmocka_unit_test(the_weakest_window_is_forgotten_slowly),
        cmocka_unit_test(a_weaker_rest_is_learned_in_anew),
        cmocka_unit_test(harmonics_that_are_sure_come),
        cmocka_unit_test(one_channel_decides_alone),
        cmocka_unit_test(harmonics_go),
        cmocka_unit_test(the_first_step_in_may_be_small),
        cmocka_unit_test(it_glides_in_a_straight_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
