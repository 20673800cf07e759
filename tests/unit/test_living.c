/* Which channel is heard in place of which, sample by sample, however the audio is cut: beside the rule as living.h has
 * it, written down plainly. */
#include "living.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

enum { RATE = 8000, PATIENCE = RATE / 100, FRAMES = 1 << 15 };

/* A sample of silence, and the faintest that sounds. */
static const float faint = 0.9f * DSP_DIGITAL_SILENCE, sounding = DSP_DIGITAL_SILENCE;

static float take[2][FRAMES], plain[2][FRAMES];

static uint32_t next(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return *seed >> 16;
}

/* Stretches of sound and of silence, of lengths about the patience and the cell, and now and then a lone sample. */
static void make_channel(float *x, uint32_t seed)
{
    static const uint32_t longest[] = {2, 40, 2 * PATIENCE, 700};
    for (uint32_t t = 0; t < FRAMES;) {
        const bool silent = next(&seed) % 2;
        uint32_t left = 1 + next(&seed) % longest[next(&seed) % 4];
        for (; left && t < FRAMES; --left, ++t) {
            const float sign = next(&seed) % 2 ? 1.f : -1.f;
            x[t] = sign * (silent ? next(&seed) % 3 ? 0.f : faint : next(&seed) % 3 ? 0.25f : sounding);
        }
    }
}

static void reckon_plainly(void)
{
    uint32_t silent[2] = {PATIENCE, PATIENCE};
    for (uint32_t t = 0; t < FRAMES; ++t) {
        for (int c = 0; c < 2; ++c)
            silent[c] = fabsf(take[c][t]) < DSP_DIGITAL_SILENCE ? silent[c] + 1 : 0;
        for (int c = 0; c < 2; ++c)
            plain[c][t] = take[silent[c] >= PATIENCE ? 1 - c : c][t];
    }
}

static void a_living_channel_stands_in_for_a_dead_one(void **state)
{
    (void)state;
    static const uint32_t lengths[] = {DSP_CELL, DSP_CELL, 7, 1, DSP_CELL, 0, 24, 31, DSP_CELL};
    Living l;
    living_init(&l, RATE, 2);
    for (uint32_t seed = 1; seed <= 20; ++seed) {
        make_channel(take[0], 2 * seed);
        make_channel(take[1], 2 * seed + 1);
        reckon_plainly();
        living_reset(&l);
        for (uint32_t at = 0, i = seed, n; at < FRAMES; at += n) {
            n = lengths[i++ % (sizeof lengths / sizeof *lengths)];
            n = n < FRAMES - at ? n : FRAMES - at;
            const float *heard[DSP_CHANNELS];
            living_process(&l, (const float *const[]){take[0] + at, take[1] + at}, heard, n);
            for (int c = 0; c < 2; ++c)
                for (uint32_t t = 0; t < n; ++t)
                    assert_true(heard[c][t] == plain[c][at + t]);
        }
    }
}

static void one_channel_is_heard_as_it_is(void **state)
{
    (void)state;
    Living l;
    living_init(&l, RATE, 1);
    const float *heard[DSP_CHANNELS];
    living_process(&l, (const float *const[]){take[0]}, heard, DSP_CELL);
    assert_ptr_equal(heard[0], take[0]);
    assert_null(heard[1]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_living_channel_stands_in_for_a_dead_one),
        cmocka_unit_test(one_channel_is_heard_as_it_is),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
