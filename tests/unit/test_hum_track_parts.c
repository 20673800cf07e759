/* The parts of hum_track.h, from tables: made windows in which every harmonic is known. */
#include "dsp.h"
#include "hum_track_curve.h"
#include "hum_track_inside.h"
#include "hum_track_links.h"
#include "hum_track_rests.h"
#include "hum_track_shape.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define SECONDS 0.02
#define STEP    (0.013 * 2.0 * DSP_PI * 50.0 / 64.0) /* rad/s, from one speed that is tried to the next */

enum { MOST = 600, SLICE = 2 };

typedef struct {
    HumTrack t;
    HumTrackBlock block[MOST + 1]; /* one more: it is never looked at */
    HumTrackRest rest[MOST / TRACK_REST + 1];
    double work[TRACK_ROWS * MOST];
    float point[(MOST + TRACK_SPAN) * SLICE];
} Table;

static Table *table(uint32_t blocks)
{
    Table *const w = calloc(1, sizeof *w);
    assert_non_null(w);
    w->t = (HumTrack){.take = {.channels = 1, .point = {w->point}},
                      .nominal = 2.0 * DSP_PI * 50.0,
                      .seconds = SECONDS,
                      .harmonics = 4,
                      .length = SLICE,
                      .blocks = blocks,
                      .block = w->block,
                      .rest = w->rest,
                      .work = w->work};
    w->block[blocks].quiet = true;
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; ++k)
        w->block[blocks].heard[0].re[k] = 99.f;
    return w;
}

static void put(Table *w, uint32_t b, uint32_t k, double amplitude, double angle)
{
    pair_put(&w->block[b].heard[0], k, (Pair){amplitude * cos(angle), amplitude * sin(angle)});
}

/* All blocks from `from` to one before `to` lie in a rest. */
static void rest(Table *w, uint32_t from, uint32_t to)
{
    for (uint32_t b = from; b < to; ++b)
        w->block[b].quiet = true;
}

static bool is_rest(const HumTrackRest *r, uint32_t from, uint32_t to)
{
    return r->from == from && r->to == to;
}

static bool is_pair(const FollowerRows *row, uint32_t k, double amplitude, double angle)
{
    return hypot((double)row->re[k] - amplitude * cos(angle), (double)row->im[k] - amplitude * sin(angle)) <
           1e-4 * amplitude;
}

/* ---- Rests ---- */

static void slices(Table *w, uint32_t from, uint32_t n, double first, double times)
{
    for (uint32_t i = 0; i < n; ++i)
        for (uint32_t k = 0; k < SLICE; ++k)
            w->point[SLICE * (from + i) + k] = (float)sqrt(first * pow(times, i));
}

/* Each window has 1.05 times the power of that before it: of 200, 8 % are 15, and 3 times the power are 22.5 more. */
static void what_is_quiet(void **state)
{
    (void)state;
    Table *const w = table(200);
    slices(w, 0, 206, 1.0, 1.05);
    track_find_quiet(&w->t, 1.0);
    for (uint32_t b = 0; b < 200; ++b)
        assert_true(w->block[b].quiet == (b <= 37) && !w->block[b].silent);
    free(w);
}

/* Nothing is less than a hundredth of the hum: in the middle of a window, or all over it. */
static void what_is_silent(void **state)
{
    (void)state;
    Table *const w = table(54);
    slices(w, 0, 30, 0.009, 1.0);
    slices(w, 30, 30, 0.011, 1.0);
    track_find_quiet(&w->t, 1.0);
    for (uint32_t b = 0; b < 54; ++b)
        assert_true(w->block[b].silent == (b + 3 < 30) && w->block[b].quiet == (b >= 27));
    assert_true(w->block[54].quiet && w->block[54].power == 0.0);
    free(w);
}

static void how_long_a_rest_is(void **state)
{
    (void)state;
    Table *const w = table(45);
    rest(w, 0, 5);
    rest(w, 7, 13);
    rest(w, 14, 45);
    track_find_rests(&w->t);
    assert_int_equal(w->t.rests, 3);
    assert_true(is_rest(&w->rest[0], 7, 13) && is_rest(&w->rest[1], 14, 39) && is_rest(&w->rest[2], 39, 45));
    free(w);
}

/* Of powers that go up and down by a half, 0.75 under the root is steady; what does not move counts as noise of a
 * hundredth. */
static void what_moves_is_trusted_less(void **state)
{
    (void)state;
    Table *const w = table(40);
    rest(w, 0, 30);
    for (uint32_t b = 0; b < 40; ++b) {
        put(w, b, 0, sqrt(b % 2 ? 1.5 : 0.5), 1.0);
        put(w, b, 1, b < 30 ? 2.0 : 77.0, 1.0);
    }
    track_find_rests(&w->t);
    assert_true(fabs((double)w->t.trust[0][0] * (1.0 - sqrt(0.75)) - 1.0) < 1e-4);
    assert_true(fabs((double)w->t.trust[0][1] * 0.04 - 1.0) < 1e-4);
    free(w);
}

/* A note that is steadier than any harmonic of the hum, and turns another way, does not decide by itself how quickly
 * the hum turns. */
static void a_rest_turns(void **state)
{
    (void)state;
    const double speed = 20.0 * STEP;
    Table *const w = table(60);
    w->t.harmonics = 8;
    rest(w, 10, 35);
    for (uint32_t b = 0; b < 60; ++b)
        for (uint32_t k = 0; k < 8; ++k)
            put(w, b, k, k == 2 ? 3.0 : sqrt(b % 2 ? 1.5 : 0.5), (k + 1) * (k == 2 ? -7.2 : 1.0) * speed * SECONDS * b);
    track_find_rests(&w->t);
    assert_int_equal(w->t.rests, 1);
    assert_true(fabs(w->rest[0].speed - speed) < 1e-9);
    const double mean = (13.0 * sqrt(0.5) + 12.0 * sqrt(1.5)) / 25.0; /* 10, 12, ... 34 are even */
    for (uint32_t k = 0; k < 8; ++k)
        if (k != 2)
            assert_true(is_pair(&w->rest[0].mean[0], k, mean, (k + 1) * speed * SECONDS * 22.0));
    free(w);
}

/* ---- Shape ---- */

/* Two windows of three are near it, one is a voice's. */
static void odd_windows_do_not_move_a_shape(void **state)
{
    (void)state;
    Table *const w = table(91);
    rest(w, 0, 90);
    for (uint32_t b = 0; b < 91; ++b) {
        const uint32_t third = b / 3;
        put(w, b, 1, 1.0, b == 90 || b % 3 == 0 ? 2.0 : b % 3 == 1 ? 0.02 * third / 30.0 : 0.0);
    }
    track_find_shape(&w->t, 0, 1);
    assert_true(fabs(atan2((double)w->t.shape[0].im[1], (double)w->t.shape[0].re[1]) - 0.005) < 0.005);
    free(w);
}

/* What the shape settles on: each window counts by how near it is beside what is usual, and that is the middle power as
 * of noise. The middle itself is elsewhere. */
static void near_windows_count_more(void **state)
{
    (void)state;
    static const double at[9] = {0.7, 0.8, 0.9, 0.95, 1.0, 1.15, 1.25, 1.3, 1.4};
    double off[9], sum = 0.0, most = 0.0;
    Table *const w = table(9);
    rest(w, 0, 9);
    for (uint32_t b = 0; b < 9; ++b)
        put(w, b, 0, at[b], 0.0);
    track_find_shape(&w->t, 0, 0);
    const double x = (double)w->t.shape[0].re[0];
    for (uint32_t b = 0; b < 9; ++b)
        off[b] = (at[b] - x) * (at[b] - x);
    uint32_t below[9] = {0}, middle = 0;
    for (uint32_t b = 0; b < 9; ++b)
        for (uint32_t other = 0; other < 9; ++other)
            below[b] += off[other] < off[b];
    for (uint32_t b = 0; b < 9; ++b)
        middle = below[b] == 4 ? b : middle;
    const double usual = off[middle] / 0.693;
    assert_true(fabs((double)w->t.noise[0][0] / usual - 1.0) < 1e-4);
    for (uint32_t b = 0; b < 9; ++b) {
        sum += (at[b] - x) / (usual + off[b]);
        most += fabs(at[b] - x) / (usual + off[b]);
    }
    assert_true(fabs(sum) < 0.006 * most && fabs(x - 1.0) > 0.02);
    free(w);
}

/* Of noise a share of 0.693 of its power lies in the middle. */
static void noise_is_known_by_its_middle(void **state)
{
    (void)state;
    static const double off[6] = {0.01, 0.02, 0.3, 0.5, 0.6, 0.7};
    Table *const w = table(12);
    rest(w, 0, 12);
    for (uint32_t b = 0; b < 12; ++b)
        put(w, b, 0, b % 2 ? 1.0 + off[b / 2] : 1.0 - off[b / 2], 0.0);
    track_find_shape(&w->t, 0, 0);
    assert_true(fabs((double)w->t.noise[0][0] / (0.09 / 0.693) - 1.0) < 0.05);
    free(w);
}

/* Nothing is divided by 0 later. */
static void what_never_differs_has_a_little_noise(void **state)
{
    (void)state;
    Table *const w = table(12);
    rest(w, 0, 12);
    track_find_shape(&w->t, 0, 0);
    assert_true(w->t.noise[0][0] == 1e-20f && w->t.shape[0].re[0] == 0.f);
    free(w);
}

/* A harmonic of 1, both parts of which step up by `step` in the middle between two rests of 50 blocks, 150 apart. */
static Table *stepping(double step)
{
    Table *const w = table(250);
    rest(w, 0, 50);
    rest(w, 200, 250);
    for (uint32_t b = 0; b < 250; ++b) {
        const double x = b < 125 ? -0.5 * step : 0.5 * step;
        pair_put(&w->block[b].heard[0], 1, (Pair){1.0 + x, x});
    }
    for (uint32_t i = 0; i < 3 * 250; ++i)
        w->work[i] = 5.0; /* of something before */
    pair_put(&w->t.shape[0], 1, (Pair){1.0, 0.0});
    return w;
}

/* What is wanted: the least of sum w (x - v)^2 + s sum (x' - x)^2, w in rests alone. With k = sqrt(w / s) = 1/200 that
 * is a straight line between them and v - c cosh(k i) in them, i from the take's ends. */
static void a_harmonic_wanders(void **state)
{
    (void)state;
    const double v = 0.1 / sqrt(2.0), c = v / (cosh(0.25) + 75.0 / 200.0 * sinh(0.25)), slope = c / 200.0 * sinh(0.25);
    Table *const w = stepping(2.0 * v);
    w->t.noise[0][1] = 0.01f;
    w->block[150].silent = true;
    w->block[250].hum[0].im[1] = 77.f;
    track_wander(&w->t, 0, 1);
    for (int part = 0; part < 2; ++part) {
        const double at = part ? 0.0 : 1.0;
        double x[250];
        for (uint32_t b = 0; b < 250; ++b)
            x[b] = (double)(part ? w->block[b].hum[0].im[1] : w->block[b].hum[0].re[1]) - at;
        assert_true(fabs(x[249] / (v - c) - 1.0) < 0.02 && fabs(x[0] / (c - v) - 1.0) < 0.02);
        assert_true(fabs(x[160] / (35.5 * slope) - 1.0) < 0.02 && x[150] == -at);
    }
    assert_true(w->block[250].hum[0].im[1] == 77.f);
    free(w);
}

/* The hum is twice the power of what the rests differ by, on the mean over the harmonics. */
static void what_rests_have_in_common_is_a_hum(void **state)
{
    (void)state;
    for (int louder = 0; louder < 2; ++louder) {
        Table *const w = table(1);
        w->t.take.channels = 2;
        for (uint32_t k = 0; k < 4; ++k) {
            w->t.noise[0][k] = w->t.noise[1][k] = 0.5f;
            pair_put(&w->t.shape[0], k, (Pair){0.6, 0.8});
            pair_put(&w->t.shape[1], k, (Pair){0.6, louder ? 0.81 : 0.79});
        }
        assert_true(track_explains(&w->t) == louder);
        free(w);
    }
}

/* ---- Links ---- */

/* A hum whose speed swings: its phase at a block, rad. */
static double swing(double b)
{
    return 2.5 * sin(2.0 * DSP_PI * b / 500.0) + 0.02 * b;
}

static void sing_swing(Table *w, uint32_t blocks)
{
    for (uint32_t b = 0; b < blocks; ++b)
        for (uint32_t k = 0; k < 4; ++k)
            put(w, b, k, 1.0 / (k + 1), (k + 1) * (swing(b) + k * k));
}

/* Through rests and the way between them, over more than half a turn that the speeds at its ends do not tell of. A rest
 * in which something else is heard is left out. */
static void rests_are_linked(void **state)
{
    (void)state;
    static const uint32_t from[] = {40, 95, 320, 400, 460}, to[] = {52, 120, 340, 410, 480};
    Table *const w = table(500);
    sing_swing(w, 500);
    for (uint32_t i = 0; i < 5; ++i)
        rest(w, from[i], to[i]);
    for (uint32_t b = 400; b < 410; ++b)
        for (uint32_t k = 0; k < 4; ++k)
            put(w, b, k, 1.0 / (k + 1), k * b * 1.7);
    track_find_rests(&w->t);
    track_link_rests(&w->t);
    track_draw_curve(&w->t);
    assert_int_equal(w->t.rests, 5);
    for (uint32_t i = 0; i < 5; ++i)
        assert_true(w->rest[i].linked == (i != 3));
    const double first = w->block[107].phase - swing(107.0);
    for (uint32_t i = 0; i < 5; ++i) {
        const double middle = 0.5 * (from[i] + to[i] - 1.0);
        assert_true(i == 3 || fabs(w->block[(uint32_t)middle].phase - swing(floor(middle)) - first) < 0.15);
    }
    for (uint32_t b = 0; b < 500; ++b) {
        const double far = b < 40    ? 40 - b
                           : b < 52  ? 0
                           : b < 95  ? fmin(b - 52, 95 - b)
                           : b < 120 ? 0
                           : b < 320 ? fmin(b - 120, 320 - b)
                           : b < 340 ? 0
                           : b < 460 ? fmin(b - 340, 460 - b)
                           : b < 480 ? 0
                                     : b - 480;
        assert_true(fabs(w->block[b].away - far * SECONDS) < 1e-9);
    }
    free(w);
}

/* A hum whose speed rises and falls again as a cubic's does: one cubic goes from rest to rest, so the whole curve is
 * known but for what speeds and angles are rounded to; and beyond them it goes straight on. */
static void between_rests_it_is_a_cubic(void **state)
{
    (void)state;
    Table *const w = table(300);
    for (uint32_t drifts = 0; drifts < 2; ++drifts) {
        double phase[300], error[300];
        for (uint32_t b = 0; b < 300; ++b) {
            const double u = b / 100.0 - 1.5;
            phase[b] = 20.0 * STEP * SECONDS * b + drifts * 0.8 * u * u * u;
            for (uint32_t k = 0; k < 4; ++k)
                put(w, b, k, 1.0, (k + 1) * phase[b] + k * k);
        }
        rest(w, 50, 62);
        rest(w, 140, 165);
        rest(w, 240, 252);
        w->t.rests = 0;
        memset(w->t.shape, 0, sizeof w->t.shape);
        track_find_rests(&w->t);
        track_link_rests(&w->t);
        track_draw_curve(&w->t);
        for (uint32_t b = 0; b < 300; ++b)
            error[b] = w->block[b].phase - phase[b] - (w->block[152].phase - phase[152]);
        for (uint32_t b = drifts ? 56 : 0; b < (drifts ? 246 : 300); ++b)
            assert_true(fabs(error[b]) < (drifts ? 0.05 : 0.02));
    }
    free(w);
}

/* ---- What is told ---- */

/* A hum of 1 in every harmonic; in the blocks from `from` to one before `to`, something else. */
static Table *told_but(uint32_t blocks, uint32_t from, uint32_t to)
{
    Table *const w = table(blocks);
    for (uint32_t k = 0; k < 4; ++k) {
        w->t.noise[0][k] = 1.f;
        pair_put(&w->t.shape[0], k, (Pair){1.0, 0.0});
        for (uint32_t b = 0; b < blocks; ++b)
            put(w, b, k, 5.0, b >= from && b < to ? DSP_PI : 0.0);
    }
    for (uint32_t b = 0; b < blocks; ++b)
        w->block[b].away = b % 100 < 20 ? 0.0 : SECONDS;
    return w;
}

/* Lately: e^(-t / 0.5 s) = 1/2 after 17.3 blocks. */
static void where_it_goes_astray_nothing_is_told(void **state)
{
    (void)state;
    for (uint32_t astray = 17; astray <= 18; ++astray) {
        Table *const w = told_but(400, 150, 150 + astray);
        assert_true(track_tells(&w->t));
        for (uint32_t b = 0; b < 400; ++b)
            assert_true(w->block[b].told == (astray == 17 || b < 120 || b >= 200));
        free(w);
    }
}

/* For a fifth of a second something else is heard, where on one side of it the harmonics hardly agree: coming from
 * there the curve has gone astray. */
static void it_may_go_astray_from_either_side(void **state)
{
    (void)state;
    for (uint32_t after = 0; after < 2; ++after) {
        Table *const w = told_but(400, 155, 165);
        for (uint32_t b = after ? 165 : 120; b < (after ? 200 : 155); ++b)
            for (uint32_t k = 0; k < 4; ++k)
                put(w, b, k, 5.0, acos(0.2));
        assert_true(track_tells(&w->t));
        for (uint32_t b = 0; b < 400; ++b)
            assert_true(w->block[b].told == (b < 120 || b >= 200));
        free(w);
    }
}

static void silence_is_not_astray(void **state)
{
    (void)state;
    Table *const w = told_but(400, 120, 200);
    for (uint32_t b = 120; b < 200; ++b)
        w->block[b].silent = true;
    assert_true(track_tells(&w->t));
    for (uint32_t b = 0; b < 400; ++b)
        assert_true(w->block[b].told);
    free(w);
}

/* Of 400 blocks in four stretches, 20 in rests of each. */
static void a_quarter_has_to_be_told(void **state)
{
    (void)state;
    for (uint32_t left = 0; left < 2; ++left) {
        Table *const w = told_but(400, 120, 400);
        for (uint32_t b = 0; b < 400; ++b)
            w->block[b].away = b < 100 - left ? 0.0 : SECONDS;
        assert_true(track_tells(&w->t) == !left);
        free(w);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_quiet),
        cmocka_unit_test(what_is_silent),
        cmocka_unit_test(how_long_a_rest_is),
        cmocka_unit_test(what_moves_is_trusted_less),
        cmocka_unit_test(a_rest_turns),
        cmocka_unit_test(odd_windows_do_not_move_a_shape),
        cmocka_unit_test(near_windows_count_more),
        cmocka_unit_test(noise_is_known_by_its_middle),
        cmocka_unit_test(what_never_differs_has_a_little_noise),
        cmocka_unit_test(a_harmonic_wanders),
        cmocka_unit_test(what_rests_have_in_common_is_a_hum),
        cmocka_unit_test(rests_are_linked),
        cmocka_unit_test(between_rests_it_is_a_cubic),
        cmocka_unit_test(where_it_goes_astray_nothing_is_told),
        cmocka_unit_test(it_may_go_astray_from_either_side),
        cmocka_unit_test(silence_is_not_astray),
        cmocka_unit_test(a_quarter_has_to_be_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
