/* The path through candidates, from tables of likeness: what one frame says against those around it counts for little.
 */
#include "pitch_path.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#define RATE 8000.0

enum { FIRST = 20, NEAR = 160, FAR = 40, FRAMES = 60 };

/* Adds a peak of this height, three lags wide, to the likeness at near lags. */
static void add_peak(float *likeness, double lag, double height)
{
    for (uint32_t i = 0; i < NEAR; ++i) {
        const double off = (FIRST + i - lag) / 3.0;
        likeness[i] += (float)(height * exp(-off * off));
    }
}

/* The frame that a path decides about when it is given one more, with peaks at two lags; it looks at the first `ahead`
 * lags by threes before the rest is there. */
static PitchFrame next_of(PitchPath *p, double lag, double height, double other, double other_height, uint32_t ahead)
{
    float near[NEAR] = {0}, there[NEAR] = {0}, far[FAR] = {0};
    const PitchLikeness heard = {there, far, {FIRST, NEAR}, {700, FAR}, 0.25};
    add_peak(near, lag, height);
    add_peak(near, other, other_height);
    for (uint32_t done = 3; done <= ahead; done += 3) {
        memcpy(there, near, done * sizeof *there);
        pitch_path_look(p, &heard, done);
    }
    memcpy(there, near, sizeof there);
    far[FAR / 2] = 0.5f;
    const PitchFrame f = pitch_path_add(p, &heard);
    float least = HUGE_VALF; /* of what paths cost: it never grows */
    for (uint32_t i = 0; i < p->column[p->newest].count; ++i)
        least = fminf(least, p->column[p->newest].candidate[i].cost);
    assert_true(least == 0.f);
    return f;
}

static PitchFrame next(PitchPath *p, double lag, double height, double other, double other_height)
{
    return next_of(p, lag, height, other, other_height, 0);
}

static void a_peak_is_the_pitch_after_the_delay(void **state)
{
    (void)state;
    PitchPath p;
    pitch_path_init(&p, RATE);
    for (uint32_t k = 0; k < FRAMES; ++k) {
        const PitchFrame f = next(&p, 80.3, 0.9, 0.0, 0.0);
        if (k < PITCH_DELAY) {
            assert_true(f.hz == 0.0 && f.clarity == 0.0 && f.level == 0.0);
            continue;
        }
        assert_true(fabs(RATE / f.hz - 80.3) < 0.01 && fabs(f.clarity - 0.9) < 0.001);
        assert_true(f.level == 0.25 && f.repeat >= 0.5);
    }
    pitch_path_reset(&p);
    assert_true(next(&p, 80.3, 0.9, 0.0, 0.0).hz == 0.0);
}

static void a_faint_peak_is_none(void **state)
{
    (void)state;
    PitchPath p;
    pitch_path_init(&p, RATE);
    for (uint32_t k = 0; k < FRAMES; ++k) {
        const PitchFrame f = next(&p, 80.0, 0.35, 0.0, 0.0);
        assert_true(f.hz == 0.0 && (k < PITCH_DELAY || fabs(f.clarity - 0.35) < 0.001));
    }
}

/* One frame in which an octave below looks better, or nothing does, changes nothing; from then on, it does. */
static void one_frame_is_outvoted(void **state)
{
    (void)state;
    for (int lasting = 0; lasting < 2; ++lasting) {
        PitchPath p;
        double last = 0.0;
        pitch_path_init(&p, RATE);
        for (uint32_t k = 0; k < FRAMES; ++k) {
            const bool below = k == 30 || (lasting && k > 30);
            const PitchFrame f = next(&p, 70.0, below ? 0.7 : 0.9, 140.0, below ? 0.9 : 0.7);
            last = k >= PITCH_DELAY ? RATE / f.hz : 70.0;
            assert_true(k > 30 + PITCH_DELAY || fabs(last - 70.0) < 0.1 || lasting);
        }
        assert_true(fabs(last - (lasting ? 140.0 : 70.0)) < 0.1);
    }
}

/* Frames until a path decides on this lag, after `before` frames of another peak. */
static uint32_t frames_until(double lag, double height, double other, double other_height, uint32_t before)
{
    PitchPath p;
    uint32_t frames = 1;
    pitch_path_init(&p, RATE);
    for (uint32_t k = 0; k < before; ++k)
        next(&p, 0.0, 0.0, other, other_height);
    while (frames < FRAMES && fabs(next(&p, lag, height, other, other_height).hz * lag / RATE - 1.0) > 0.01)
        ++frames;
    return frames;
}

/* What is cheaper by a 13.5th of a price in every frame has made up for it in the 14th: a peak, that of a change from
 * no pitch, and another peak, that of a jump by an octave. */
static void prices_are_paid_by_and_by(void **state)
{
    (void)state;
    const double octaves = log2(80.0 * 1250.0 / RATE);
    assert_int_equal(frames_until(80.0, 0.4 + 0.03 * octaves + 0.14 / 13.5, 0.0, 0.0, 0), 14);
    assert_int_equal(frames_until(140.0, 0.8 + 0.03 + 0.35 / 13.5, 70.0, 0.8, 30), 14);
}

/* Of two that are as likely the higher pitch is taken. */
static void of_equals_the_higher_pitch(void **state)
{
    (void)state;
    PitchPath p;
    PitchFrame f = {0};
    pitch_path_init(&p, RATE);
    for (uint32_t k = 0; k < FRAMES; ++k)
        f = next(&p, 70.0, 0.9, 140.0, 0.905);
    assert_true(fabs(RATE / f.hz - 70.0) < 0.1);
}

/* Of ten peaks the eight best stay, the best first, in whatever order they come. */
static void the_best_candidates_stay(void **state)
{
    (void)state;
    static const double height[10] = {0.65, 0.9, 0.55, 0.7, 0.45, 0.85, 0.5, 0.8, 0.6, 0.75};
    for (uint32_t turn = 0; turn < 10; ++turn) {
        float near[NEAR] = {0}, far[FAR] = {0};
        double lag_of[8] = {0}; /* by rank: 0.05 lie between one and the next */
        PitchPath p;
        pitch_path_init(&p, RATE);
        for (uint32_t k = 0; k < 10; ++k) {
            const double here = height[(k + turn) % 10], lag = 80.0 + 10.0 * k;
            const long rank = lround((0.9 - here) / 0.05);
            add_peak(near, lag, here);
            if (rank < 8)
                lag_of[rank] = lag;
        }
        pitch_path_look(&p, &(PitchLikeness){near, far, {FIRST, NEAR}, {700, FAR}, 0.25}, NEAR);
        const PitchColumn *column = &p.column[1]; /* of the first frame */
        assert_true(column->count == 9 && column->candidate[0].lag == 0.0);
        for (uint32_t rank = 0; rank < 8; ++rank)
            assert_true(fabs(column->candidate[1 + rank].lag - lag_of[rank]) < 0.1);
    }
}

/* Nothing depends on when lags are looked at. */
static void looking_ahead_changes_no_bit(void **state)
{
    (void)state;
    PitchPath a, b;
    memset(&a, 0, sizeof a);
    memset(&b, 0, sizeof b);
    pitch_path_init(&a, RATE);
    pitch_path_init(&b, RATE);
    for (uint32_t k = 0; k < FRAMES; ++k) {
        next(&a, 40.0 + 2.0 * k, 0.9, 70.0, 0.8);
        next_of(&b, 40.0 + 2.0 * k, 0.9, 70.0, 0.8, 3 * k < NEAR ? 3 * k : NEAR);
        assert_memory_equal(&a, &b, sizeof a);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_peak_is_the_pitch_after_the_delay),
        cmocka_unit_test(a_faint_peak_is_none),
        cmocka_unit_test(one_frame_is_outvoted),
        cmocka_unit_test(prices_are_paid_by_and_by),
        cmocka_unit_test(of_equals_the_higher_pitch),
        cmocka_unit_test(the_best_candidates_stay),
        cmocka_unit_test(looking_ahead_changes_no_bit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
