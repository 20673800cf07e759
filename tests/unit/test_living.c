/* Which channel is heard in place of which, sample by sample, however the audio is cut: beside the rule as living.h has
 * it, written down plainly. */
#include "living.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

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

/* ---- Polarity ---- */

enum { WINDOW = RATE / 10, SECONDS = 4, LONG = SECONDS * RATE };

static float wide[2][LONG], heard_wide[2][LONG];

/* Channel 1: channel 0 by `gain`, and beside it a sound of its own by `apart`. */
static void make_wide(float gain, float apart)
{
    uint32_t seed = 5, other = 6;
    for (uint32_t t = 0; t < LONG; ++t) {
        wide[0][t] = 0.5f * ((float)next(&seed) / 65536.f - 0.5f);
        wide[1][t] = gain * wide[0][t] + apart * 0.5f * ((float)next(&other) / 65536.f - 0.5f);
    }
}

static void hear_wide(uint32_t from, uint32_t to, uint32_t piece, Living *l)
{
    for (uint32_t at = from, n; at < to; at += n) {
        const float *heard[DSP_CHANNELS];
        n = piece < to - at ? piece : to - at;
        living_process(l, (const float *const[]){wide[0] + at, wide[1] + at}, heard, n);
        for (uint32_t c = 0; c < 2; ++c)
            memcpy(heard_wide[c] + at, heard[c], n * sizeof(float));
    }
}

/* Of channel 1: how often it is heard as it is, before the first sample that is heard turned over; LONG: it never is.
 * From there on all of it is. */
static uint32_t turned_from(void)
{
    uint32_t from = 0;
    while (from < LONG && heard_wide[1][from] == wide[1][from])
        ++from;
    for (uint32_t t = from; t < LONG; ++t)
        assert_true(heard_wide[1][t] == -wide[1][t]);
    assert_memory_equal(heard_wide[0], wide[0], sizeof wide[0]);
    return from;
}

static void a_channel_of_opposite_polarity_is_heard_turned_over(void **state)
{
    (void)state;
    static const uint32_t pieces[] = {1, 7, 31, DSP_CELL};
    static const struct {
        float gain, apart;
        bool opposite;
    } takes[] = {{-1.f, 0.f, true},   {-0.9f, 0.f, true},  {-0.7f, 0.f, false}, {-1.1f, 0.f, true},
                 {-1.4f, 0.f, false}, {-1.f, 0.15f, true}, {-1.f, 0.3f, false}, {1.f, 0.f, false},
                 {0.01f, 0.f, false}, {0.f, 1.f, false},   {-0.01f, 0.f, false}};
    Living l;
    living_init(&l, RATE, 2);
    for (size_t i = 0; i < sizeof takes / sizeof *takes; ++i)
        for (size_t k = 0; k < sizeof pieces / sizeof *pieces; ++k) {
            make_wide(takes[i].gain, takes[i].apart);
            living_reset(&l);
            hear_wide(0, LONG, pieces[k], &l);
            assert_int_equal(turned_from(), takes[i].opposite ? 10 * WINDOW : LONG);
        }
}

/* What sounds ten times as loud as what cancelled outweighs it at the end of its first window. */
static void channels_that_agree_again_are_heard_as_they_are(void **state)
{
    (void)state;
    Living l;
    living_init(&l, RATE, 2);
    make_wide(-1.f, 0.f);
    for (uint32_t t = LONG / 2; t < LONG; ++t)
        wide[1][t] = wide[0][t];
    living_reset(&l);
    hear_wide(0, LONG, DSP_CELL, &l);
    for (uint32_t t = LONG / 2 + WINDOW; t < LONG; ++t)
        assert_true(heard_wide[1][t] == wide[1][t]);
    assert_true(heard_wide[1][LONG / 2 - 1] == -wide[1][LONG / 2 - 1]);
}

/* Silence is no sound that could cancel, and does not make it forgotten at once. */
static void silence_turns_nothing_over(void **state)
{
    enum { TURNED = 25 * WINDOW };
    (void)state;
    Living l;
    living_init(&l, RATE, 2);
    make_wide(-1.f, 0.f);
    for (uint32_t t = 0; t < 20 * WINDOW; ++t)
        wide[0][t] = t < 5 * WINDOW ? wide[0][t] : 0.f;
    for (uint32_t t = 0; t < 20 * WINDOW; ++t)
        wide[1][t] = -wide[0][t];
    living_reset(&l);
    hear_wide(0, LONG, DSP_CELL, &l);
    assert_true(heard_wide[1][TURNED - 1] == wide[1][TURNED - 1]);
    assert_true(heard_wide[1][TURNED] == -wide[1][TURNED]);
}

/* The second, turned over, stands in for the first: both are heard alike, and their mean is not 0. */
static void a_dead_one_of_opposite_polarity_is_replaced(void **state)
{
    (void)state;
    Living l;
    living_init(&l, RATE, 2);
    make_wide(-1.f, 0.f);
    for (uint32_t t = LONG / 2; t < LONG; ++t)
        wide[0][t] = 0.f;
    for (uint32_t piece = 7; piece <= DSP_CELL; piece += DSP_CELL - 7) {
        living_reset(&l);
        hear_wide(0, LONG, piece, &l);
        for (uint32_t t = LONG / 2 + PATIENCE; t < LONG; ++t)
            assert_true(heard_wide[0][t] == heard_wide[1][t]);
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
        cmocka_unit_test(a_channel_of_opposite_polarity_is_heard_turned_over),
        cmocka_unit_test(channels_that_agree_again_are_heard_as_they_are),
        cmocka_unit_test(silence_turns_nothing_over),
        cmocka_unit_test(a_dead_one_of_opposite_polarity_is_replaced),
        cmocka_unit_test(one_channel_is_heard_as_it_is),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
