/* The delay line: what went in comes out later, and nothing else. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "delay.h"

enum { LONG = 3000 };

static float sample(uint32_t i)
{
    return (float)(i * 7919 % 1000) + 1.f;
}

static void every_delay_up_to_the_longest_is_exact(void **state)
{
    (void)state;
    static const uint32_t longest[] = {0, 1, 2, 3, 63, 64, 65, 1000};
    for (size_t l = 0; l < sizeof longest / sizeof *longest; ++l)
        for (uint32_t by = 0; by <= longest[l]; by += 1 + longest[l] / 9) {
            Delay d;
            assert_true(delay_init(&d, longest[l]));
            assert_true(d.length >= longest[l] + DSP_CELL && d.length < longest[l] + 2 * DSP_CELL);
            for (uint32_t i = 0; i < LONG; ++i) {
                delay_write(&d, (const float[]){sample(i)}, 1);
                assert_true(delay_tap(&d, by) == (i >= by ? sample(i - by) : 0.f));
            }
            delay_done(&d);
        }
}

static void the_longest_tap_is_there_too(void **state)
{
    (void)state;
    Delay d;
    assert_true(delay_init(&d, 1024));
    for (uint32_t i = 0; i < LONG; ++i)
        delay_write(&d, (const float[]){sample(i)}, 1);
    assert_true(delay_tap(&d, 1024) == sample(LONG - 1 - 1024));
    delay_done(&d);
}

/* Runs of every length, across the end of the line, are what the same samples are one at a time. */
static void a_run_is_its_samples(void **state)
{
    (void)state;
    Delay run, single;
    assert_true(delay_init(&run, 96) && delay_init(&single, 96));
    for (uint32_t at = 0, n = 1; at + n < LONG; at += n, n = n % DSP_CELL + 1) {
        float in[DSP_CELL], out[DSP_CELL];
        for (uint32_t i = 0; i < n; ++i)
            in[i] = sample(at + i);
        delay_write(&run, in, n);
        for (uint32_t ago = 0; ago <= 96; ago += 24) {
            delay_read(&run, ago, out, n);
            for (uint32_t i = 0; i < n; ++i)
                assert_true(out[i] == (at + i >= ago ? sample(at + i - ago) : 0.f));
        }
        for (uint32_t i = 0; i < n; ++i)
            delay_write(&single, (const float[]){in[i]}, 1);
        assert_true(delay_tap(&run, 96) == delay_tap(&single, 96));
    }
    delay_done(&run);
    delay_done(&single);
}

/* What is written anew stands where the last samples stood, across the end of the line too; a reset makes it plain. */
static void the_last_samples_may_be_written_anew(void **state)
{
    (void)state;
    Delay d, plain;
    assert_true(delay_init(&d, 40) && delay_init(&plain, 40));
    assert_false(d.raw);
    for (uint32_t at = 0, n = 7; at + n < LONG; at += n, n = n % DSP_CELL + 1) {
        float in[DSP_CELL], other[DSP_CELL];
        for (uint32_t i = 0; i < n; ++i) {
            in[i] = sample(at + i);
            other[i] = -in[i];
        }
        delay_write(&d, other, n);
        delay_rewrite(&d, in, n);
        delay_write(&plain, in, n);
        for (uint32_t ago = 0; ago <= 40; ++ago)
            assert_true(delay_tap(&d, ago) == delay_tap(&plain, ago));
    }
    d.raw = true;
    delay_reset(&d);
    assert_false(d.raw);
    delay_done(&d);
    delay_done(&plain);
}

static void blocks_and_in_place_do_not_matter(void **state)
{
    (void)state;
    static const uint32_t blocks[] = {5, 400, 10, 300, 1, 0};
    float in[LONG], whole[LONG], cut[LONG];
    for (uint32_t i = 0; i < LONG; ++i)
        in[i] = cut[i] = sample(i);
    Delay a, b;
    assert_true(delay_init(&a, 240) && delay_init(&b, 240));
    delay_process(&a, 240, in, whole, LONG);
    for (uint32_t at = 0, i = 0; at < LONG; ++i) {
        const uint32_t left = LONG - at, n = blocks[i % 6] < left ? blocks[i % 6] : left;
        delay_process(&b, 240, cut + at, cut + at, n);
        at += n;
    }
    assert_memory_equal(whole, cut, sizeof whole);
    assert_memory_equal(whole + 240, in, sizeof in - 240 * sizeof *in);
    delay_process(&a, 0, in, whole, LONG);
    assert_memory_equal(whole, in, sizeof in);
    delay_done(&a);
    delay_done(&b);
}

static void a_reset_is_silent(void **state)
{
    (void)state;
    Delay d;
    assert_true(delay_init(&d, 100));
    for (uint32_t i = 0; i < LONG; ++i)
        delay_write(&d, (const float[]){sample(i)}, 1);
    delay_reset(&d);
    for (uint32_t by = 0; by <= 100; ++by)
        assert_true(delay_tap(&d, by) == 0.f);
    delay_done(&d);
}

static void done_is_safe_twice_and_on_nothing(void **state)
{
    (void)state;
    Delay d = {0};
    delay_done(&d);
    assert_true(delay_init(&d, 10));
    delay_done(&d);
    delay_done(&d);
}

/* Lines side by side are what each is by itself, in cells that are whole and cut, written alone and processed. */
static void lines_side_by_side_are_each_alone(void **state)
{
    (void)state;
    static const uint32_t cuts[] = {DSP_CELL, DSP_CELL, 5, DSP_CELL - 5, DSP_CELL, 1};
    for (uint32_t longest = 96; longest < 100; ++longest) {
        Delay both[2], alone[2];
        for (uint32_t c = 0; c < 2; ++c)
            assert_true(delay_init(&both[c], longest) && delay_init(&alone[c], longest));
        for (uint32_t at = 0, i = 0; at + DSP_CELL < LONG; ++i) {
            const uint32_t n = cuts[i % (sizeof cuts / sizeof *cuts)];
            float in[2][DSP_CELL], out[2][DSP_CELL], wanted[DSP_CELL];
            for (uint32_t c = 0; c < 2; ++c)
                for (uint32_t t = 0; t < n; ++t)
                    in[c][t] = sample(2 * (at + t) + c);
            const float *const from[] = {in[0], in[1]};
            if (i % 7 == 3)
                delays_write(both, 2, from, n);
            else
                delays_process(both, 2, longest - i % 5, from, (float *const[]){out[0], out[1]}, n);
            for (uint32_t c = 0; c < 2; ++c) {
                delay_process(&alone[c], longest - i % 5, in[c], wanted, n);
                assert_int_equal(both[c].at, alone[c].at);
                if (i % 7 != 3)
                    assert_memory_equal(out[c], wanted, n * sizeof *wanted);
            }
            at += n;
        }
        for (uint32_t c = 0; c < 2; ++c) {
            delay_done(&both[c]);
            delay_done(&alone[c]);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_delay_up_to_the_longest_is_exact),
        cmocka_unit_test(the_longest_tap_is_there_too),
        cmocka_unit_test(a_run_is_its_samples),
        cmocka_unit_test(the_last_samples_may_be_written_anew),
        cmocka_unit_test(blocks_and_in_place_do_not_matter),
        cmocka_unit_test(a_reset_is_silent),
        cmocka_unit_test(done_is_safe_twice_and_on_nothing),
        cmocka_unit_test(lines_side_by_side_are_each_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
