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
enum { SECONDS = 12, FRAMES = SECONDS * 48000, HOP = 4800 };

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
    Tally memory;
} Heard;

static void listen(Heard *h, uint32_t channels, const float *l, const float *r)
{
    Listening listening;
    VoiceLevel v = {0};
    *h = (Heard){.lowest = 100.0, .highest = -300.0};
    assert_true(listening_init(&listening, RATE, channels, listening_hops(RATE), LISTENING_POWER));
    for (uint32_t t = 0; t < FRAMES; t += DSP_CELL) {
        const ListeningFrame *frame = listening_frame(&listening);
        const VoiceLevelFound found = frame ? voice_level_hear(&v, frame, HOP) : (VoiceLevelFound){.block = false};
        if (found.block) {
            ++h->blocks;
            h->lowest = fmin(h->lowest, found.db);
            h->highest = fmax(h->highest, found.db);
            level_memory_add(&h->memory, found.db);
        }
        listening_process(&listening, (const float *[]){l + t, r + t}, DSP_CELL);
    }
    listening_done(&listening);
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

/* A direct current as strong as the voice, in both channels or of one alone, counts for nothing. */
static void a_direct_current_is_no_voice(void **state)
{
    (void)state;
    static float up[FRAMES], down[FRAMES];
    sing();
    for (uint32_t t = 0; t < FRAMES; ++t) {
        up[t] = voice[t] + 0.1f;
        down[t] = voice[t] - 0.05f;
    }
    Heard clean, one, both;
    listen(&clean, 1, voice, voice);
    listen(&one, 1, up, up);
    listen(&both, 2, up, down);
    assert_int_equal(one.blocks, clean.blocks);
    assert_float_equal(one.highest, clean.highest, 0.01);
    assert_float_equal(both.highest, clean.highest, 0.01);
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
                   h.highest - clean.highest, 0.7, "dB", "own limit");
    figure_at_most("Trim", "the same in 6 s of voice: level moves by",
                   fabs(level_memory_level(&h.memory) - level_memory_level(&clean.memory)), 0.1, "dB", "own limit");
}

/* ---- From tables of frames, 10 ms each ---- */

typedef struct {
    uint32_t frames; /* alike, one after the other */
    double db;       /* their level */
    float peak;
    bool voiced;
} Stretch;

typedef struct {
    uint32_t blocks, hops; /* that count; in which a voice sounds */
    double first, highest; /* dB */
    float peak;
} Found;

static void take_in(Found *all, VoiceLevelFound found)
{
    all->hops += found.peak != NULL;
    for (uint32_t f = 0; found.peak && f < VOICE_LEVEL_FRAMES; ++f)
        all->peak = fmaxf(all->peak, found.peak[f]);
    if (!found.block)
        return;
    all->first = all->blocks++ ? all->first : found.db;
    all->highest = fmax(all->highest, found.db);
}

static Found hear(const Stretch *stretch, uint32_t stretches)
{
    VoiceLevel v = {0};
    Found all = {.highest = -300.0};
    for (uint32_t i = 0; i < stretches; ++i) {
        const Stretch *s = &stretch[i];
        const ListeningFrame frame = {.power = db_to_power(s->db) * HOP / VOICE_LEVEL_FRAMES,
                                      .peak = s->peak,
                                      .sounding = s->voiced ? HOP / VOICE_LEVEL_FRAMES / DSP_CELL : 0};
        for (uint32_t n = 0; n < s->frames; ++n)
            take_in(&all, voice_level_hear(&v, &frame, HOP));
    }
    return all;
}
#define HEAR(...) hear((const Stretch[]){__VA_ARGS__}, sizeof((const Stretch[]){__VA_ARGS__}) / sizeof(Stretch))

/* A note of 1 s, rests of 2 s: seven blocks lie in it, three reach over either edge, and three more lie beside it. */
static void a_note_gives_its_blocks(void **state)
{
    (void)state;
    const Found note = HEAR({200, -200.0, 0.f, false}, {100, -20.0, 0.5f, true}, {200, -200.0, 0.f, false});
    assert_int_equal(note.blocks, 7 + 2 * 3 + 2 * 3);
    assert_int_equal(note.hops, 10);
    assert_true(fabs(note.highest + 20.0) < 1e-9);
    assert_true(note.first == UNITS_DB_FLOOR); /* beside it nothing sounds */
}

/* The first block that counts is the first there is, once its surroundings are known too. */
static void a_block_is_the_four_hops_before_those_near_it(void **state)
{
    VoiceLevel v = {0};
    VoiceLevelFound found = {.block = false};
    double power = 0.0;
    (void)state;
    for (uint32_t f = 0; f < 70; ++f) {
        assert_false(found.block);
        const uint32_t hop = f / VOICE_LEVEL_FRAMES;
        const double level = -40.0 + hop; /* 1 dB up from hop to hop */
        const ListeningFrame frame = {.power = db_to_power(level) * HOP / VOICE_LEVEL_FRAMES, .sounding = 15};
        found = voice_level_hear(&v, &frame, HOP);
        power += f < 40 ? db_to_power(level) / 40.0 : 0.0;
    }
    assert_true(found.block && fabs(found.db - power_to_db(power)) < 1e-9);
}

/* 50 ms of voice within 0.3 s of a block, 30 ms in a hop for its peaks. */
static void so_much_voice_is_enough(void **state)
{
    (void)state;
    const Found five = HEAR({100, -30.0, 0.25f, false}, {5, -30.0, 0.25f, true}, {100, -30.0, 0.25f, false});
    assert_int_equal(five.blocks, 10); /* those that it lies in or near */
    assert_int_equal(five.hops, 1);
    const Found four = HEAR({100, -30.0, 0.25f, false}, {4, -30.0, 0.25f, true}, {100, -30.0, 0.25f, false});
    assert_int_equal(four.blocks, 0);
    assert_int_equal(four.hops, 1);
    assert_int_equal(HEAR({100, -30.0, 0.f, false}, {2, -30.0, 0.f, true}, {100, -30.0, 0.f, false}).hops, 0);
}

/* Of a thump in three frames, three times the power of the fourth strongest counts. */
static void a_thump_counts_for_little(void **state)
{
    (void)state;
    const Found hit = HEAR({100, -20.0, 0.f, true}, {3, 0.0, 1.f, true}, {100, -20.0, 0.f, true});
    assert_true(fabs(hit.highest - -20.0 - power_to_db((37.0 + 3.0 * VOICE_LEVEL_STANDS_OUT) / 40.0)) < 1e-9);
    const Found longer = HEAR({100, -20.0, 0.f, true}, {4, 0.0, 1.f, true}, {100, -20.0, 0.f, true});
    assert_true(fabs(longer.highest - power_to_db((36.0 * 0.01 + 4.0) / 40.0)) < 1e-9);
}

/* Peaks are those of hops in which a voice sounds. */
static void peaks_are_those_of_the_voice(void **state)
{
    (void)state;
    const Found f = HEAR({100, -200.0, 2.f, false}, {100, -20.0, 0.5f, true}, {100, -200.0, 2.f, false});
    assert_true(f.peak == 0.5f);
    assert_int_equal(f.hops, 10);
}

/* ---- From audio ---- */

static void two_channels_count_their_mean_power(void **state)
{
    (void)state;
    static float softer[FRAMES];
    for (uint32_t t = 0; t < FRAMES; ++t)
        softer[t] = 0.1f * voice[t];
    Heard both, one;
    listen(&both, 2, voice, voice);
    listen(&one, 2, voice, softer);
    assert_float_equal(both.highest, -20.0, 0.1);
    assert_float_equal(one.highest, -22.97, 0.1);
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
        Tally m = {{0}};
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
    Tally m = {{0}};
    for (uint32_t i = 0; i < 3 * TALLY_MOST; ++i) {
        level_memory_add(&m, -20.0);
        level_memory_add(&m, i % 2 ? -26.0 : 99.0);
    }
    for (uint32_t b = 0; b < LEVEL_MEMORY_BINS; ++b)
        assert_true(m.count[b] <= TALLY_MOST);
    memset(&m, 0, sizeof m);
    for (uint32_t i = 0; i < 5 * TALLY_MOST; ++i)
        level_memory_add(&m, i % 2 ? -20.0 : -17.0);
    assert_float_equal(level_memory_level(&m), power_to_db((db_to_power(-20.0) + db_to_power(-17.0)) / 2.0), 0.13);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_note_gives_its_blocks),
        cmocka_unit_test(a_block_is_the_four_hops_before_those_near_it),
        cmocka_unit_test(so_much_voice_is_enough),
        cmocka_unit_test(a_thump_counts_for_little),
        cmocka_unit_test(blocks_of_voice_count),
        cmocka_unit_test(a_direct_current_is_no_voice),
        cmocka_unit_test(a_thump_moves_no_block_by_much),
        cmocka_unit_test(peaks_are_those_of_the_voice),
        cmocka_unit_test(two_channels_count_their_mean_power),
        cmocka_unit_test(a_missing_sample_moves_nothing),
        cmocka_unit_test(silence_finds_nothing),
        cmocka_unit_test(memory_gates_like_the_full_list),
        cmocka_unit_test(memory_never_overflows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
