/* The repair that knows the whole take (hum_whole.h) by itself, without the plug-in that it stands in for: what that
 * read and what it put out are made up here. The hum that is planted is known to the sample. */
#include "hum_whole.h"

#include "singer/noises.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define RATE  48000.0
#define LEVEL (-40.0) /* dB, of the hum */

enum { N = 12 * STAGE_BLOCK * 48, HARMONICS = 16 }; /* 6 s */

static const HumWholeAsked all_of_it = {.hum_down = 120.0, .up_to = 1000.0};

/* ---- A take ---- */

/* out: what the plug-in put out, before. */
typedef struct {
    float in[DSP_CHANNELS][N], out[DSP_CHANNELS][N], plugin[DSP_CHANNELS][N];
} Take;

/* The second channel has half of the first, the other way up. */
static Take *humming(double hz)
{
    Take *const t = calloc(1, sizeof *t);
    assert_non_null(t);
    if (hz > 0.0)
        add_hum((Recording){t->in[0], N, RATE}, hz, 0.0, HARMONICS, db_to_gain(LEVEL), (Random){3, 1});
    else
        add_hiss((Recording){t->in[0], N, RATE}, db_to_gain(LEVEL), (Random){3, 1});
    for (uint32_t i = 0; i < N; ++i) {
        t->in[1][i] = -0.5f * t->in[0][i];
        t->plugin[0][i] = (float)(i % 997) / 997.f;
        t->plugin[1][i] = (float)(i % 991) / 991.f;
    }
    memcpy(t->out, t->plugin, sizeof t->out);
    return t;
}

/* In pieces of a length that no block is a multiple of. */
static void hear(HumWhole *w, const Take *t, uint32_t channels, uint32_t n, uint32_t piece)
{
    HumWholeHearing h;
    Error e;
    hum_whole_hear(&h, w, channels, RATE);
    for (uint32_t from = 0; from < n; from += piece) {
        const float *const in[] = {t->in[0] + from, t->in[1] + from};
        assert_true(h.sink.write(&h.sink, in, n - from < piece ? n - from : piece, &e));
    }
    assert_true(h.sink.end(&h.sink, &e));
}

/* The plug-in found a hum of these mains, 0: none. */
static void settle(HumWhole *w, uint32_t takes, float mains)
{
    Port ports[] = {{.index = 0, .symbol = "found_mains"}, {.index = 1, .symbol = "found_level"}};
    Reading seen[] = {{.last = mains}, {.last = (float)LEVEL}};
    const Plugin plugin = {.ports = 2, .port = ports};
    const Readings readings = {.plugin = &plugin, .port = seen};
    Error e;
    assert_true(hum_whole_settle(w, takes, &readings, &e));
}

/* Block by block, as the chain does. */
static void play(const HumWhole *w, const HumWholeAsked *asked, Take *t)
{
    memcpy(t->out, t->plugin, sizeof t->out);
    for (uint32_t at = 0; at < N; at += STAGE_BLOCK) {
        const float *const in[] = {t->in[0] + at, t->in[1] + at};
        float *const out[] = {t->out[0] + at, t->out[1] + at};
        hum_whole_play(w, asked, at, in, out, STAGE_BLOCK);
    }
}

static double power(const float *x)
{
    double sum = 1e-30;
    for (uint32_t i = 0; i < N; ++i)
        sum += (double)x[i] * (double)x[i];
    return sum;
}

static double down(const Take *t, uint32_t channel)
{
    return power_to_db(power(t->in[channel]) / power(t->out[channel]));
}

static void is_the_plug_ins(const HumWhole *w, Take *t)
{
    play(w, &all_of_it, t);
    assert_memory_equal(t->out, t->plugin, sizeof t->out);
}

/* ---- Tests ---- */

static void what_is_settled_is_taken_out(void **state)
{
    (void)state;
    for (uint32_t channels = 1; channels <= DSP_CHANNELS; ++channels) {
        Take *const t = humming(channels > 1 ? 60.0 : 50.0);
        HumWhole w = {.points = 0};
        hear(&w, t, channels, N, 333);
        settle(&w, 1, channels > 1 ? 60.f : 50.f);
        assert_true(w.track.settled);
        play(&w, &all_of_it, t);
        assert_true(down(t, 0) > 40.0);
        if (channels > 1)
            assert_true(down(t, 1) > 40.0);
        else
            assert_memory_equal(t->out[1], t->plugin[1], sizeof t->out[1]);
        hum_whole_free(&w);
        free(t);
    }
}

static void as_much_is_taken_as_is_asked(void **state)
{
    (void)state;
    Take *const t = humming(50.0);
    HumWhole w = {.points = 0};
    hear(&w, t, 1, N, 333);
    settle(&w, 1, 50.f);
    play(&w, &(HumWholeAsked){.hum_down = 20.0, .up_to = 1000.0}, t);
    assert_true(fabs(down(t, 0) - 20.0) < 0.5);
    play(&w, &(HumWholeAsked){.hum_down = 20.0, .up_to = 1000.0, .hear_removed = true}, t);
    assert_true(fabs(down(t, 0) + gain_to_db(1.0 - db_to_gain(-20.0))) < 0.05);
    play(&w, &(HumWholeAsked){.hum_down = 0.0, .up_to = 1000.0}, t);
    assert_memory_equal(t->out[0], t->in[0], sizeof t->in[0]);
    play(&w, &(HumWholeAsked){.hum_down = 60.0, .up_to = 49.0}, t);
    assert_memory_equal(t->out[0], t->in[0], sizeof t->in[0]);
    hum_whole_free(&w);
    free(t);
}

/* Of one channel and of both, in pieces; as what is left, and as what is heard to go. */
static void what_went_is_counted(void **state)
{
    (void)state;
    enum { FRAMES = 4 };
    static const float in[2][FRAMES] = {{1.f, -1.f, 0.5f, 0.5f}, {0.f, 0.f, 1.f, -2.f}};
    static const float left[2][FRAMES] = {{1.f, -1.f, 0.5f, 0.f}, {0.f, 0.f, 0.5f, -1.f}};
    const float *const from[] = {in[0], in[1]}, *const to[] = {left[0], left[1]};
    HumWholeTaken both = {0}, first = both, heard = both, none = both;
    hum_whole_count(&both, false, 2, from, to, 3);
    hum_whole_count(&both, false, 2, (const float *const[]){in[0] + 3, in[1] + 3},
                    (const float *const[]){left[0] + 3, left[1] + 3}, 1);
    assert_true(fabs(hum_whole_taken(&both) - power_to_db(1.5 / 7.5)) < 1e-9);
    hum_whole_count(&first, false, 1, from, to, FRAMES);
    assert_true(fabs(hum_whole_taken(&first) - power_to_db(0.25 / 2.5)) < 1e-9);
    hum_whole_count(&heard, true, 2, from, to, FRAMES);
    assert_true(fabs(hum_whole_taken(&heard) - power_to_db(3.5 / 7.5)) < 1e-9);
    assert_true(hum_whole_taken(&none) <= UNITS_DB_FLOOR);
    hum_whole_count(&none, false, 2, from, from, FRAMES);
    assert_true(hum_whole_taken(&none) <= UNITS_DB_FLOOR);
}

/* The plug-in found none; or it did, and the whole take tells none. */
static void without_a_hum_the_plug_ins_output_stands(void **state)
{
    (void)state;
    Take *const hum = humming(50.0), *const hiss = humming(0.0);
    HumWhole none = {.points = 0}, other = none;
    hear(&none, hum, 1, N, 333);
    settle(&none, 1, 0.f);
    is_the_plug_ins(&none, hum);
    hear(&other, hiss, 2, N, 333);
    settle(&other, 1, 50.f);
    is_the_plug_ins(&other, hiss);
    hum_whole_free(&none);
    hum_whole_free(&other);
    free(hum);
    free(hiss);
}

/* Where the beginning is covered, the plug-in's output stands until the hum is known. */
static void where_nothing_tells_the_plug_ins_output_stands(void **state)
{
    (void)state;
    enum { COVERED = 3 * 48000, EDGE = 9600 };
    Take *const t = humming(50.0);
    HumWhole w = {.points = 0};
    add_hiss((Recording){t->in[0], COVERED, RATE}, db_to_gain(LEVEL + 45.0), (Random){2, 1});
    hear(&w, t, 1, N, 333);
    settle(&w, 1, 50.f);
    assert_true(w.track.settled);
    play(&w, &all_of_it, t);
    assert_memory_equal(t->out[0], t->plugin[0], (COVERED - EDGE) * sizeof(float));
    for (uint32_t i = COVERED + EDGE; i < N; ++i)
        assert_true(fabsf(t->out[0][i]) < 0.1f * (float)db_to_gain(LEVEL));
    hum_whole_free(&w);
    free(t);
}

static void each_take_is_settled_by_itself(void **state)
{
    (void)state;
    Take *const hum = humming(50.0), *const hiss = humming(0.0);
    HumWhole w[2] = {{.points = 0}, {.points = 0}};
    hear(&w[0], hiss, 1, N, 333);
    hear(&w[1], hum, 1, N, 333);
    for (int again = 0; again < 2; ++again) {
        settle(w, 2, 50.f);
        is_the_plug_ins(&w[0], hiss);
        play(&w[1], &all_of_it, hum);
        assert_true(down(hum, 0) > 40.0);
    }
    for (int twice = 0; twice < 2; ++twice) {
        hum_whole_free(&w[0]);
        hum_whole_free(&w[1]);
    }
    free(hum);
    free(hiss);
}

static void a_take_too_short_or_silent_is_let_be(void **state)
{
    (void)state;
    static const uint32_t lengths[] = {0, 1, 7, STAGE_BLOCK - 1, STAGE_BLOCK, STAGE_BLOCK + 1, 4800, N};
    Take *const t = humming(50.0);
    for (uint32_t i = 0; i < 8; ++i) {
        HumWhole w = {.points = 0};
        if (lengths[i] == N)
            memset(t->in, 0, sizeof t->in);
        hear(&w, t, 2, lengths[i], 333);
        settle(&w, 1, 50.f);
        assert_int_equal(w.points, lengths[i] / hum_points_stride(RATE));
        is_the_plug_ins(&w, t);
        hum_whole_free(&w);
    }
    free(t);
}

static void pieces_make_no_difference(void **state)
{
    (void)state;
    enum { SOME = 10 * STAGE_BLOCK + 100 };
    Take *const t = humming(50.0);
    HumWhole whole = {.points = 0}, pieces = whole;
    hear(&whole, t, 2, SOME, SOME);
    hear(&pieces, t, 2, SOME, 1);
    assert_int_equal(whole.points, pieces.points);
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        assert_memory_equal(whole.point[c], pieces.point[c], whole.points * sizeof(float));
    hum_whole_free(&whole);
    hum_whole_free(&pieces);
    free(t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_settled_is_taken_out),
        cmocka_unit_test(what_went_is_counted),
        cmocka_unit_test(as_much_is_taken_as_is_asked),
        cmocka_unit_test(without_a_hum_the_plug_ins_output_stands),
        cmocka_unit_test(where_nothing_tells_the_plug_ins_output_stands),
        cmocka_unit_test(each_take_is_settled_by_itself),
        cmocka_unit_test(a_take_too_short_or_silent_is_let_be),
        cmocka_unit_test(pieces_make_no_difference),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
