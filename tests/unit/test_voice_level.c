/* The voice's level: which blocks count, and what the memory of levels makes of them. */
#include "voice_level.h"

#include "figure.h"
#include "seeds.h"
#include "units.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define RATE 48000.0
enum { SECONDS = 12, FRAMES = SECONDS * 48000 };

static float voice[FRAMES];

/* Sung notes of 2 s and rests of 2 s: 20 harmonics of 200 Hz with a vibrato, at a plain RMS of -20 dB. */
static void sing(void)
{
    double phase = 0.0;
    for (uint32_t t = 0; t < FRAMES; ++t) {
        const double s = t / RATE;
        phase += 2.0 * DSP_PI * 200.0 * (1.0 + 0.02 * sin(2.0 * DSP_PI * 5.5 * s)) / RATE;
        double x = 0.0, power = 0.0;
        for (int h = 1; h <= 20; ++h) {
            x += sin(h * phase) / h;
            power += 0.5 / (h * h);
        }
        const double edge = fmin(fmod(s, 4.0), 2.0 - fmod(s, 4.0)) / 0.03;
        const double w = edge <= 0.0 ? 0.0 : edge >= 1.0 ? 1.0 : 0.5 - 0.5 * cos(DSP_PI * edge);
        voice[t] = (float)(w * x / sqrt(power) * 0.1);
    }
}

typedef struct {
    uint32_t blocks;
    double lowest, highest;
    LevelMemory memory;
} Heard;

static void listen(Heard *h, uint32_t channels, const float *l, const float *r)
{
    VoiceLevel v;
    *h = (Heard){.lowest = 100.0, .highest = -300.0};
    assert_true(voice_level_init(&v, RATE, channels));
    for (uint32_t t = 0; t < FRAMES; t += DSP_CELL) {
        double db;
        if (voice_level_found(&v, &db)) {
            ++h->blocks;
            h->lowest = fmin(h->lowest, db);
            h->highest = fmax(h->highest, db);
            level_memory_add(&h->memory, db);
        }
        voice_level_process(&v, (const float *[]){l + t, r + t}, DSP_CELL);
    }
    voice_level_done(&v);
}

static void blocks_of_voice_count(void **state)
{
    (void)state;
    sing();
    Heard h;
    listen(&h, 1, voice, voice);
    /* Three notes: 17 blocks lie in each, six more reach over its edges, and up to six lie beside it. */
    assert_in_range(h.blocks, 3 * 23, 3 * 29 + 1);
    assert_float_equal(h.highest, -20.0, 0.1);
    assert_float_equal(level_memory_level(&h.memory), -20.0, 1.0);
}

/* The loudest 19 ms there can be in the middle of a note, in place of what is there. */
static void a_thump_moves_no_block_by_much(void **state)
{
    (void)state;
    static float hit[FRAMES];
    sing();
    memcpy(hit, voice, sizeof hit);
    for (uint32_t t = 0; t < 912; ++t)
        hit[50003 + t] = (float)sin(DSP_PI * t / 912);
    Heard clean, h;
    listen(&clean, 1, voice, voice);
    listen(&h, 1, hit, hit);
    assert_int_equal(h.blocks, clean.blocks);
    figure_at_most("Trim", "a thump of 19 ms, 17 dB over the voice's level: its blocks get louder by",
                   h.highest - clean.highest, 1.0, "dB", "own limit");
    figure_at_most("Trim", "the same in 6 s of voice: level moves by",
                   fabs(level_memory_level(&h.memory) - level_memory_level(&clean.memory)), 0.1, "dB", "own limit");
}

/* Peaks come for the hops of the notes alone, each frame's own. */
static void peaks_are_those_of_the_voice(void **state)
{
    (void)state;
    VoiceLevel v;
    uint32_t hops = 0, marked = 0;
    sing();
    assert_true(voice_level_init(&v, RATE, 1));
    for (uint32_t t = 0; t < FRAMES; t += DSP_CELL) {
        double db;
        /* told for the cell before: the one that ends 0.5 s into the first note, and one in the first rest */
        const bool here = t == 24000, rest = t == 144000;
        voice_level_peak(&v, here || rest ? 2.f : 0.5f);
        voice_level_found(&v, &db);
        const float *peak = voice_level_peaks(&v);
        hops += peak != NULL;
        for (uint32_t f = 0; peak && f < VOICE_LEVEL_FRAMES; ++f) {
            assert_true(peak[f] == 0.5f || peak[f] == 2.f);
            marked += peak[f] == 2.f;
        }
        voice_level_process(&v, (const float *[]){voice + t}, DSP_CELL);
    }
    assert_in_range(hops, 3 * 19, 3 * 21);
    assert_int_equal(marked, 1);
    voice_level_done(&v);
}

static void two_channels_count_their_mean_power(void **state)
{
    (void)state;
    static const float silent[FRAMES];
    Heard both, one;
    listen(&both, 2, voice, voice);
    listen(&one, 2, voice, silent);
    assert_float_equal(both.highest, -20.0, 0.1);
    assert_float_equal(one.highest, -23.01, 0.1);
}

static void a_missing_sample_moves_nothing(void **state)
{
    (void)state;
    static float hurt[FRAMES];
    memcpy(hurt, voice, sizeof hurt);
    hurt[48000] = 0.f;
    Heard clean, h;
    listen(&clean, 1, voice, voice);
    listen(&h, 1, hurt, hurt);
    assert_true(h.highest <= clean.highest);
    assert_int_equal(clean.blocks, h.blocks);
    assert_float_equal(level_memory_level(&h.memory), level_memory_level(&clean.memory), 0.01);
}

static void silence_finds_nothing(void **state)
{
    (void)state;
    static const float silent[FRAMES];
    Heard h;
    listen(&h, 2, silent, silent);
    assert_int_equal(h.blocks, 0);
    assert_true(level_memory_level(&h.memory) == UNITS_DB_FLOOR);
}

static double listed_level(const double *db, int n)
{
    double gate = -70.0, mean = 0.0;
    for (int pass = 0; pass < 2; ++pass) {
        double sum = 0.0, blocks = 0.0;
        for (int i = 0; i < n; ++i)
            if (db[i] >= gate) {
                sum += db_to_power(db[i]);
                blocks += 1.0;
            }
        mean = power_to_db(sum / blocks);
        gate = fmax(gate, mean - 10.0);
    }
    return mean;
}

static void memory_gates_like_the_full_list(void **state)
{
    (void)state;
    enum { LEVELS = 2000 };
    double worst = 0.0;
    uint32_t seed = seeded(1);
    for (int trial = 0; trial < 20; ++trial) {
        LevelMemory m = {{0}};
        double db[LEVELS];
        for (int i = 0; i < LEVELS; ++i) {
            seed = seed * 1664525u + 1013904223u;
            db[i] = -71.0 + 3.0 * trial + (4.0 + trial) * (seed / 4294967296.0);
            level_memory_add(&m, db[i]);
        }
        worst = fmax(worst, fabs(level_memory_level(&m) - listed_level(db, LEVELS)));
    }
    figure_at_most("Trim", "level from the memory against the full list of blocks", worst, 0.1, "dB", "requirement");
}

static void memory_never_overflows(void **state)
{
    (void)state;
    LevelMemory m = {{0}};
    for (uint32_t i = 0; i < 3 * LEVEL_MEMORY_MOST; ++i) {
        level_memory_add(&m, -20.0);
        level_memory_add(&m, i % 2 ? -26.0 : 99.0);
    }
    for (uint32_t b = 0; b < LEVEL_MEMORY_BINS; ++b)
        assert_true(m.count[b] <= LEVEL_MEMORY_MOST);
    memset(&m, 0, sizeof m);
    for (uint32_t i = 0; i < 5 * LEVEL_MEMORY_MOST; ++i)
        level_memory_add(&m, i % 2 ? -20.0 : -17.0);
    assert_float_equal(level_memory_level(&m), power_to_db((db_to_power(-20.0) + db_to_power(-17.0)) / 2.0), 0.13);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(blocks_of_voice_count),           cmocka_unit_test(a_thump_moves_no_block_by_much),
        cmocka_unit_test(peaks_are_those_of_the_voice),    cmocka_unit_test(two_channels_count_their_mean_power),
        cmocka_unit_test(a_missing_sample_moves_nothing),  cmocka_unit_test(silence_finds_nothing),
        cmocka_unit_test(memory_gates_like_the_full_list), cmocka_unit_test(memory_never_overflows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
