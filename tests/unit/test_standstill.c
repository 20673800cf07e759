/* What comes through of silences of every length, sample by sample, however the audio is cut: beside the rule as
 * standstill.h has it, written down plainly over the whole take. */
#include "standstill.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum {
    RATE = 8000,
    FRAME = 170,
    HOLE = RATE / 1000,
    MOST = 29 * FRAME /* the first whole frame over 0.6 s */,
    N = 1 << 18
};

static float take[N], plain[N], came[N];

static uint32_t next(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return *seed >> 16;
}

/* Sounds and silences about as long as a hole, a frame, several frames, and as the longest that comes through. */
static void make_take(void)
{
    static const uint32_t longest[] = {2 * HOLE, 2 * FRAME, 5 * FRAME, 2 * MOST};
    uint32_t seed = 1;
    for (uint32_t t = 0, sounds = 0; t < N; sounds = !sounds)
        for (uint32_t left = 1 + next(&seed) % longest[next(&seed) % (sounds ? 3 : 4)]; left && t < N; --left)
            take[t++] = sounds ? 1e-20f * (float)(1 + next(&seed)) : 0.f;
}

static uint32_t kept_of(uint32_t zeros)
{
    if (zeros <= HOLE)
        return zeros;
    return zeros >= MOST ? MOST : zeros - zeros % FRAME;
}

static uint32_t reckon_plainly(void)
{
    uint32_t n = 0, t = 0;
    while (take[t] == 0.f)
        ++t;
    while (t < N) {
        uint32_t zeros = 0;
        for (; t + zeros < N && take[t + zeros] == 0.f; ++zeros)
            ;
        for (uint32_t i = kept_of(zeros); i; --i)
            plain[n++] = 0.f;
        t += zeros;
        for (; t < N && take[t] != 0.f; ++t)
            plain[n++] = take[t];
    }
    return n;
}

static uint32_t run(Standstill *s, const uint32_t *lengths, uint32_t count)
{
    uint32_t n = 0;
    for (uint32_t t = 0, k = 0, m; t < N; t += m, ++k) {
        m = lengths[k % count] < N - t ? lengths[k % count] : N - t;
        memcpy(came + n, take + t, m * sizeof *came); /* in place */
        n += standstill_process(s, came + n, came + n, m);
    }
    return n;
}

static void silences_come_through_in_whole_frames(void **state)
{
    (void)state;
    static const uint32_t cells[] = {DSP_CELL}, others[] = {7, 1, 0, 31, 400};
    Standstill s;
    make_take();
    take[N - 1] = 1.f;
    const uint32_t want = reckon_plainly();
    assert_true(want < N - N / 16);
    assert_true(standstill_init(&s, RATE, FRAME));
    for (int i = 0; i < 2; ++i) {
        const uint32_t n = i ? run(&s, others, 5) : run(&s, cells, 1);
        assert_in_range(want - n, 1, FRAME); /* what waits in the ring */
        assert_memory_equal(came, plain, n * sizeof *came);
        standstill_reset(&s);
    }
    standstill_done(&s);
}

/* A sound comes out a frame of samples after it came in, and nothing does before the first. */
static void it_is_a_frame_late(void **state)
{
    (void)state;
    Standstill s;
    float x[FRAME];
    assert_true(standstill_init(&s, RATE, FRAME));
    memset(x, 0, sizeof x);
    assert_int_equal(standstill_process(&s, x, x, FRAME), 0);
    for (uint32_t i = 0; i < FRAME; ++i)
        x[i] = 1.f + (float)i;
    assert_int_equal(standstill_process(&s, x, x, FRAME), 0);
    assert_int_equal(standstill_process(&s, x, x, FRAME), FRAME);
    assert_true(x[0] == 1.f && x[FRAME - 1] == (float)FRAME);
    standstill_done(&s);
    standstill_done(&s); /* once more does no harm */
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(silences_come_through_in_whole_frames),
                                       cmocka_unit_test(it_is_a_frame_late)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
