/* Clicks: single ones are found in noise and in a voice, once each, at the level they have; what goes on, or is
 * announced, is none. */
#include "clicks.h"

#include "figure.h"
#include "seeds.h"
#include "singer/noises.h"
#include "singer/singer.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { MOST = 400 };

typedef struct {
    uint32_t n;
    double at[MOST], db[MOST]; /* seconds, without CLICKS_LAG */
} Heard;

static void hear(const float *x, uint32_t n, double rate, Heard *heard)
{
    Clicks c;
    assert_true(clicks_init(&c, rate, 1));
    heard->n = 0;
    for (uint32_t at = 0; at + DSP_CELL <= n; at += DSP_CELL) {
        double db;
        clicks_process(&c, (const float *[]){x + at}, DSP_CELL);
        if (!clicks_found(&c, &db))
            continue;
        assert_true(heard->n < MOST);
        heard->at[heard->n] = (at + DSP_CELL) / rate - CLICKS_LAG;
        heard->db[heard->n++] = db;
    }
    clicks_done(&c);
}

static bool heard_near(const Heard *h, double at)
{
    for (uint32_t i = 0; i < h->n; ++i)
        if (fabs(h->at[i] - at) < 0.02)
            return true;
    return false;
}

static const double rates[] = {8000, 16000, 44100, 48000, 96000, 192000};
enum { RATES = sizeof rates / sizeof *rates, SECONDS = 8, CLICKS = 10 };

/* In hiss that lies 40 dB under their peaks. */
static void lone_clicks_are_found_at_every_rate(void **state)
{
    (void)state;
    for (int r = 0; r < RATES; ++r) {
        const uint32_t n = (uint32_t)(SECONDS * rates[r]);
        float *x = calloc(n, sizeof *x);
        assert_non_null(x);
        const Recording to = {x, n, rates[r]};
        Heard heard;
        add_hiss(to, 0.0005, random_stream(seeded(7), 1));
        hear(x, n, rates[r], &heard);
        assert_int_equal(heard.n, 0);
        for (uint32_t k = 0; k < CLICKS; ++k)
            add_click(to, 0.5 + 0.7 * k, 0.002, 0.05, random_stream(seeded(7), 10 + k));
        hear(x, n, rates[r], &heard);
        for (uint32_t k = 0; k < CLICKS; ++k)
            assert_true(heard_near(&heard, 0.5 + 0.7 * k));
        assert_int_equal(heard.n, CLICKS);
        free(x);
    }
}

/* A burst of a tone of 3 kHz for a millisecond, with nothing around it: its own RMS, but for what a predictor of
 * nothing and the edges of the piece do. Twice as loud reads 6 dB more. */
static void levels_are_those_of_the_click(void **state)
{
    (void)state;
    static float x[48000];
    Heard once, twice;
    memset(x, 0, sizeof x);
    for (uint32_t i = 0; i < 48; ++i)
        x[24000 + i] = (float)(0.1 * sin(2.0 * DSP_PI * 3000.0 * i / 48000.0));
    hear(x, 48000, 48000.0, &once);
    for (uint32_t i = 0; i < 48000; ++i)
        x[i] *= 2.f;
    hear(x, 48000, 48000.0, &twice);
    assert_true(once.n == 1 && twice.n == 1);
    assert_true(fabs(twice.db[0] - once.db[0] - 6.02) < 0.01);
    figure_within("Check", "a click of 3 kHz, 1 ms: level off by", once.db[0], -23.0, 3.0, "dB", "own truth");
}

/* Noise of 50 ms that begins as fast as a click, or ends so. */
static void what_goes_on_is_no_click(void **state)
{
    (void)state;
    static float x[96000];
    Heard heard;
    Random random = random_stream(seeded(5), 2);
    for (uint32_t i = 0; i < 96000; ++i)
        x[i] = (i % 19200 < 2400 ? 0.05f : 0.0001f) * random_noise(&random);
    hear(x, 96000, 48000.0, &heard);
    assert_int_equal(heard.n, 0);
}

static void clicks_in_a_voice(void **state)
{
    (void)state;
    double found = 0.0, planted = 0.0, none = 0.0;
    for (int v = 0; v < SINGER_VOICES; v += 3) {
        const SingerSpec spec = {.voice = (SingerVoice)v, .seed = 50 + (uint64_t)v, .seconds = 30, .hiss_db = -55};
        SingerSpec clicking = spec;
        SingerTake take;
        Heard heard;
        clicking.clicks = 20;
        clicking.click_db = 6;
        assert_true(singer_sing(&spec, &take));
        hear(take.audio, take.frames, take.rate, &heard);
        none += heard.n;
        singer_free(&take);
        assert_true(singer_sing(&clicking, &take));
        hear(take.audio, take.frames, take.rate, &heard);
        for (size_t i = 0; i < take.click_count; ++i)
            found += heard_near(&heard, take.clicks[i].start);
        planted += (double)take.click_count;
        singer_free(&take);
    }
    figure_at_least("Check", "singer, clicks 6 dB over the voice's level: found", 100.0 * found / planted, 50, "%",
                    "our own");
    figure_at_most("Check", "singer, 90 s without clicks: found", none, 1, "sounds", "our own");
}

/* In a loud tone with some noise, in one channel of two or in both: samples that are missing, and clicks in the same
 * places. */
static void missing_samples_are_no_clicks(void **state)
{
    (void)state;
    static Clicks c;
    static float x[2][96000];
    for (int run = 0; run < 3; ++run) {
        Random random = random_stream(seeded(9), 4);
        uint32_t found = 0;
        for (uint32_t i = 0; i < 96000; ++i)
            x[0][i] = x[1][i] =
                (float)(0.2 * sin(2.0 * DSP_PI * 220.3 * i / 48000.0)) + 0.0005f * random_noise(&random);
        for (uint32_t at = 9000; at < 90000; at += 9000)
            for (uint32_t i = 0; i < 1 + at / 20000; ++i) {
                x[0][at + i] = run < 2 ? 0.f : x[0][at + i] + 0.3f;
                x[1][at + i] = run == 1 ? 0.f : run == 0 ? x[1][at + i] : x[1][at + i] + 0.3f;
            }
        assert_true(clicks_init(&c, 48000.0, 2));
        for (uint32_t at = 0; at < 96000; at += DSP_CELL) {
            double db;
            clicks_process(&c, (const float *[]){x[0] + at, x[1] + at}, DSP_CELL);
            found += clicks_found(&c, &db);
        }
        assert_int_equal(found, run < 2 ? 0 : 9);
        clicks_done(&c);
    }
}

/* A ramp's difference is the same throughout, so what is left of it under the window is the window: from 0 to 1 and
 * back, over two frames. */
static void the_window_is_whole(void **state)
{
    (void)state;
    Clicks c;
    float x[DSP_CELL];
    assert_true(clicks_init(&c, 48000.0, 1));
    for (uint32_t at = 0; at < 10 * c.frame; at += DSP_CELL) {
        for (uint32_t i = 0; i < DSP_CELL; ++i)
            x[i] = 1e-4f * (float)(at + i);
        clicks_process(&c, (const float *[]){x}, DSP_CELL);
    }
    for (uint32_t i = 0; i < 2 * c.frame; ++i) {
        const double wanted = 0.5 - 0.5 * cos(DSP_PI * (i + 0.5) / c.frame);
        assert_true(fabs((double)c.shaped[i] / 1e-4 - wanted) < 2e-3);
    }
    clicks_done(&c);
}

static void a_reset_forgets(void **state)
{
    (void)state;
    static Clicks used, fresh;
    static float x[4800];
    assert_true(clicks_init(&fresh, 48000.0, 1) && clicks_init(&used, 48000.0, 1));
    Random random = random_stream(seeded(3), 3);
    for (uint32_t i = 0; i < 4800; ++i)
        x[i] = random_noise(&random);
    for (uint32_t at = 0; at < 4800; at += DSP_CELL)
        clicks_process(&used, (const float *[]){x + at}, DSP_CELL);
    clicks_reset(&used);
    assert_memory_equal(used.past, fresh.past, used.kept * sizeof *used.past);
    memcpy(fresh.predictor, used.predictor, sizeof used.predictor); /* what is written before it is read */
    fresh.db = used.db;                                             /* need not be cleared */
    float *const memory = used.memory;
    used.memory = fresh.memory;
    used.window = fresh.window;
    used.shaped = fresh.shaped;
    used.past = fresh.past;
    assert_memory_equal(&used, &fresh, sizeof used);
    free(memory);
    clicks_done(&fresh);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lone_clicks_are_found_at_every_rate),
        cmocka_unit_test(levels_are_those_of_the_click),
        cmocka_unit_test(what_goes_on_is_no_click),
        cmocka_unit_test(clicks_in_a_voice),
        cmocka_unit_test(missing_samples_are_no_clicks),
        cmocka_unit_test(the_window_is_whole),
        cmocka_unit_test(a_reset_forgets),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
