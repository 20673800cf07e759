/* What processor.h promises of every processor: the same bits however a cell is cut and however often the same controls
 * are set, outputs that may be inputs, what was learned handed over whole. */
#include "booth.h"
#include "chain.h"
#include "check.h"
#include "compressor.h"
#include "esses.h"
#include "hum_removal.h"
#include "learned_room.h"
#include "noise_floor.h"
#include "plate.h"
#include "phrase.h"
#include "play.h"
#include "pop_taming.h"
#include "rests_down.h"
#include "singer.h"
#include "ticks.h"
#include "tone.h"
#include "trim.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define RATE 16000.0

typedef struct {
    const char *name;
    const Processor *processor;
    const void *params[3]; /* learning; moved; on hold */
} Kind;

static const CheckParams for_check[] = {{true}, {true}, {false}};

static const TrimParams for_trim[] = {
    {.target = -20.0, .ceiling = -1.0, .learn = true},
    {.target = -20.0, .ceiling = -1.0, .learn = true, .hand_trim = 3.0},
    {.target = -14.0, .ceiling = -2.0, .hand_trim = -2.0},
};

#define TONE .low_cut = 90.0, .slope = TONE_CUT_18, .air_freq = 6000.0, .listening = true
static const ToneParams for_tone[] = {
    {TONE, .learn = true, .dip = {{250.0, -4.0, 1.0, true}, {400.0, -2.0, 0.5, false}, {800.0, 0.0, 1.0, true}}},
    {TONE, .learn = true, .dip = {{300.0, -9.0, 1.0, true}, {400.0, -2.0, 0.5, false}, {800.0, 0.0, 1.0, true}},
     .point_out = TONE_POINT_AIR},
    {TONE, .take_out = 6.0, .dip = {{200.0, -4.0, 1.0, true}, {400.0, -2.0, 0.5, false}, {800.0, 0.0, 1.0, true}}},
};

#define COMPRESSOR                                                                                                     \
    .threshold = -30.0, .wanted_reduction = 6.0, .ratio = 3.0, .attack = 5.0, .release = 80.0, .knee = 6.0,            \
    .detector_low_cut = 80.0, .even_loudness = true, .blend = 100.0
static const CompressorParams for_compressor[] = {
    {COMPRESSOR, .learn = true, .wanted = true},
    {COMPRESSOR, .learn = true, .look_ahead = 3.0},
    {COMPRESSOR, .wanted = true, .makeup = 1.0},
};

#define ESSES .centre = 5500.0, .listening = true, .catch_above = 0.0, .most_cut = -12.0
static const EssesParams for_esses[] = {
    {ESSES, .learn = true, .width = 1.0},
    {ESSES, .learn = true, .width = 1.5, .hear_caught = true},
    {ESSES, .width = 1.0},
};

#define FLOOR .works_from = 20.0
static const NoiseFloorParams for_floor[] = {
    {FLOOR, .learn = true, .down_by = 12.0},
    {FLOOR, .learn = true, .down_by = 6.0, .counts_up_to = 2.0, .hear_removed = true},
    {FLOOR, .down_by = 12.0},
};

#define BOOTH .from = 0.05, .even_loudness = true
static const BoothParams for_booth[] = {
    {BOOTH, .learn = true, .down_by = 12.0},
    {BOOTH, .learn = true, .down_by = 6.0, .counts_up_to = 2.0, .hear_removed = true},
    {BOOTH, .down_by = 12.0},
};

#define PLATE .low_cut = 200.0, .damping = 6000.0, .width = 90.0
static const PlateParams for_plate[] = {
    {PLATE, .decay = 2.0, .wet = -12.0},
    {PLATE, .decay = 0.6, .wet = -20.0, .pre_delay = 40.0},
    {PLATE, .decay = 4.0, .wet = -6.0, .dry = -60.0},
};

static const PopTamingParams for_pops[] = {
    {.learn = true, .down = 30.0, .up_to = 130.0},
    {.learn = true, .down = 12.0, .from = -12.0, .up_to = 250.0, .hear_removed = true},
    {.down = 20.0, .from = -12.0, .up_to = 130.0},
};

static const TicksParams for_ticks[] = {
    {.learn = true, .down = 60.0, .from = 8.0, .faintest = -60.0, .longest = 5.0},
    {.learn = true, .down = 20.0, .from = 10.0, .faintest = -40.0, .longest = 2.0, .hear_removed = true},
    {.down = 60.0, .from = 8.0, .faintest = -50.0, .longest = 6.0},
};

static const HumRemovalParams for_hum[] = {
    {.learn = true, .hum_down = 60.0, .up_to = 1000.0, .listening = true},
    {.learn = true, .hum_down = 20.0, .up_to = 300.0, .mains = 60.0, .hear_removed = true},
    {.hum_down = 12.0, .up_to = 1000.0, .listening = true},
};

static ChainParams for_chain[3]; /* of what stands above: see sing() */
#define RESTS .sound_over = 1.0, .closing = 150.0
static const RestsParams for_rests[] = {
    {RESTS, .noise_down = 10.0, .breath_down = 6.0, .learn = true},
    {RESTS, .noise_down = 20.0, .learn = true, .hear_removed = true},
    {RESTS, .noise_down = 10.0, .breath_down = 20.0},
};

static const PhraseParams for_phrase[] = {
    {.within = 1.0, .most_up = 6.0, .most_down = 6.0, .even_loudness = true, .learn = true},
    {.within = 0.0, .most_up = 12.0, .most_down = 6.0, .learn = true},
    {.within = 3.0, .most_up = 6.0, .most_down = 3.0, .even_loudness = true},
};

static const Kind kinds[] = {
    {"chain", &chain, {&for_chain[0], &for_chain[1], &for_chain[2]}},
    {"check", &check, {&for_check[0], &for_check[1], &for_check[2]}},
    {"trim", &trim, {&for_trim[0], &for_trim[1], &for_trim[2]}},
    {"tone", &tone, {&for_tone[0], &for_tone[1], &for_tone[2]}},
    {"compressor", &compressor, {&for_compressor[0], &for_compressor[1], &for_compressor[2]}},
    {"esses", &esses, {&for_esses[0], &for_esses[1], &for_esses[2]}},
    {"pops", &pops, {&for_pops[0], &for_pops[1], &for_pops[2]}},
    {"ticks", &ticks, {&for_ticks[0], &for_ticks[1], &for_ticks[2]}},
    {"hum", &hum, {&for_hum[0], &for_hum[1], &for_hum[2]}},
    {"rests", &rests, {&for_rests[0], &for_rests[1], &for_rests[2]}},
    {"phrase", &phrase, {&for_phrase[0], &for_phrase[1], &for_phrase[2]}},
    {"floor", &noise_floor, {&for_floor[0], &for_floor[1], &for_floor[2]}},
    {"booth", &booth, {&for_booth[0], &for_booth[1], &for_booth[2]}},
    {"plate", &plate, {&for_plate[0], &for_plate[1], &for_plate[2]}},
};
enum { KINDS = sizeof kinds / sizeof *kinds, PARTS = 4, LONG = PARTS * 3 * 16000 };

/* ---- One take through one processor ---- */

static float *voice[2]; /* LONG frames; the other channel is softer */

typedef struct {
    Player player;
    float *out[2];
    Learned learned;
} Played;

typedef struct {
    bool set_always;         /* before every cell, not only where something moves */
    bool in_place;           /* the outputs are the inputs, crossed over */
    const uint32_t *lengths; /* of blocks, over and over, 0 at the end; NULL: a cell */
} Way;

static Learned learned_room_for(const Processor *p)
{
    Learned l = {.value = NULL};
    if (p->learned.schema)
        assert_true(learned_init(&l, p->learned.schema));
    return l;
}

/* Parts: learning; the same controls, and a restore of nothing, so that every processor forgets; moved; on hold. */
static const uint32_t params_of[PARTS] = {0, 0, 1, 2};

static void begin_part(const Kind *k, Played *p, uint32_t part)
{
    if (part != 1) {
        play_set(&p->player, k->params[params_of[part]]);
    } else if (k->processor->learned.schema) {
        Learned nothing = learned_room_for(k->processor);
        play_put(&p->player, &nothing);
        learned_done(&nothing);
    }
}

static void play_part(const Kind *k, Played *p, const Way *way, uint32_t part)
{
    const uint32_t from = part * (LONG / PARTS), to = from + LONG / PARTS;
    uint32_t i = 0;
    begin_part(k, p, part);
    for (uint32_t at = from, n; at < to; at += n) {
        n = way->lengths ? way->lengths[i++] : DSP_CELL;
        n = n < to - at ? n : to - at;
        if (way->lengths && !way->lengths[i])
            i = 0;
        if (way->set_always)
            play_set(&p->player, k->params[params_of[part]]);
        const float *const in[] = {(way->in_place ? p->out[1] : voice[0]) + at,
                                   (way->in_place ? p->out[0] : voice[1]) + at};
        float *const out[] = {p->out[0] + at, p->out[1] + at};
        play(&p->player, in, out, n);
    }
}

static void play_all(const Kind *k, Played *p, const Way *way)
{
    *p = (Played){.learned = learned_room_for(k->processor)};
    assert_true(play_init(&p->player, k->processor, RATE, 2));
    for (int c = 0; c < 2; ++c) {
        p->out[c] = malloc(LONG * sizeof(float));
        assert_non_null(p->out[c]);
        memcpy(p->out[c], voice[1 - c], LONG * sizeof(float));
    }
    for (uint32_t part = 0; part < PARTS; ++part)
        play_part(k, p, way, part);
    if (k->processor->learned.schema)
        play_get(&p->player, &p->learned);
}

static void drop(Played *p)
{
    play_done(&p->player);
    free(p->out[0]);
    free(p->out[1]);
    learned_done(&p->learned);
}

static bool same_bits(const void *a, const void *b, size_t bytes)
{
    return memcmp(a, b, bytes) == 0;
}

static void same_either_way(const Way *way)
{
    for (uint32_t i = 0; i < KINDS; ++i) {
        const Kind *k = &kinds[i];
        Played usual, other;
        play_all(k, &usual, &(Way){.lengths = NULL});
        play_all(k, &other, way);
        for (int c = 0; c < 2; ++c)
            if (!same_bits(usual.out[c], other.out[c], LONG * sizeof(float)))
                fail_msg("%s: channel %d differs", k->name, c);
        if (k->processor->learned.schema && !learned_same(k->processor->learned.schema, &usual.learned, &other.learned))
            fail_msg("%s: what was learned differs", k->name);
        drop(&usual);
        drop(&other);
    }
}

/* ---- Tests ---- */

static void the_same_controls_once_more_change_nothing(void **state)
{
    (void)state;
    same_either_way(&(Way){.set_always = true});
}

static void blocks_of_any_length_give_the_same_bits(void **state)
{
    (void)state;
    static const uint32_t ragged[] = {1, 31, 7, 100, 33, 3, 1000, 64, 0};
    same_either_way(&(Way){.lengths = ragged});
}

static void an_output_may_be_an_input(void **state)
{
    (void)state;
    same_either_way(&(Way){.in_place = true});
}

/* The costliest cell of each kind of background work, in its own unit, is the budget of a cell and one step at most
 * (work.h). Tone's finder: 21 million instructions a second, 2.2 million steps. The others count steps: so many a
 * second, or those of a frame in its cells. */
static void no_cell_works_for_more_than_its_budget(void **state)
{
    enum { CELLS = 4 }; /* of a hop: what a step of a frame takes */
    static const struct {
        const char *name;
        uint32_t kind;
        size_t pace;
        double most;
    } works[] = {
        {"what the chain's Tone finds", 0, offsetof(Chain, tone.finder.pace), 21e3 * DSP_CELL / RATE + 22.0},
        {"Check's figures", 1, offsetof(Check, pace), 1.0},
        {"what Tone finds", 3, offsetof(Tone, finder.pace), 21e3 * DSP_CELL / RATE + 22.0},
        {"Tone's loudness", 3, offsetof(Tone, even.pace), 3000.0 * DSP_CELL / RATE},
        {"Compressor's figures", 4, offsetof(Compressor, pace), 1000.0 * DSP_CELL / RATE},
        {"Ticks' predictor", 7, offsetof(Ticks, finder.pace), 2.0 * TICK_PIECES},
        {"Floor's frame", 11, offsetof(NoiseFloor, pace), 6.0 * CELLS},
        {"Booth's frame", 12, offsetof(Booth, pace), 32.0 + CELLS},
    };
    (void)state;
    for (size_t w = 0; w < sizeof works / sizeof *works; ++w) {
        Player p;
        float *const out[] = {calloc(LONG, sizeof(float)), calloc(LONG, sizeof(float))};
        assert_true(out[0] && out[1] && play_init(&p, kinds[works[w].kind].processor, RATE, 2));
        play_set(&p, kinds[works[w].kind].params[0]);
        play(&p, (const float *const[]){voice[0], voice[1]}, out, LONG);
        const Work *work = (const void *)((const char *)p.dsp + works[w].pace);
        if (!(work->most > 0.0 && work->most <= works[w].most))
            fail_msg("%s: %g in a cell", works[w].name, work->most);
        play_done(&p);
        free(out[0]);
        free(out[1]);
    }
}

/* Cells in which the report changed; that the news tell of each is asserted. */
static uint32_t changes_told(const Kind *k, Player *p, uint32_t part)
{
    enum { REPORT = 1024 };
    static char report[2][REPORT];
    float out[DSP_CELL] = {0};
    uint32_t changes = 0, news = processor_news(k->processor, p->dsp);
    play_report(p, report[0]);
    for (uint32_t at = part * (LONG / PARTS); at < (part + 1) * (LONG / PARTS); at += DSP_CELL) {
        play(p, (const float *const[]){voice[0] + at}, (float *const[]){out}, DSP_CELL);
        play_report(p, report[1]);
        const bool changed = !same_bits(report[0], report[1], REPORT);
        if (changed && news == processor_news(k->processor, p->dsp))
            fail_msg("%s: a report changes and no news tell of it", k->name);
        changes += changed;
        news = processor_news(k->processor, p->dsp);
        memcpy(report[0], report[1], REPORT);
    }
    return changes;
}

/* Hum where it follows one: test_hum_removal.c. */
static void news_tell_of_every_change_of_the_report(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < KINDS; ++i) {
        const Kind *k = &kinds[i];
        Player p;
        if (!k->processor->news)
            continue;
        assert_true(play_init(&p, k->processor, RATE, 1));
        play_set(&p, k->params[0]);
        assert_true(changes_told(k, &p, 0) > 0 && changes_told(k, &p, 1) > 0);
        play_set(&p, k->params[2]);
        changes_told(k, &p, 2);
        play_done(&p);
    }
}

/* Writes samples over some of a cell that was just kept: some that are damaged, and some others as they are. */
static void write_over(Delay *line, uint32_t channels, const float *const *x)
{
    float raw[DSP_CELL];
    for (uint32_t c = 0; c < channels; ++c) {
        for (uint32_t i = 0; i < DSP_CELL; ++i)
            raw[i] = x[c][i] == 0.f && i % 3 == c ? (i % 2 ? 1e9f : -16.f) : x[c][i];
        delay_rewrite(&line[c], raw, DSP_CELL);
        line[c].raw = true;
    }
}

/* A voice with samples missing here and there. */
static void with_gaps(uint32_t at, float x[][DSP_CELL])
{
    for (uint32_t c = 0; c < 2; ++c)
        for (uint32_t i = 0; i < DSP_CELL; ++i)
            x[c][i] = (at + i) % 4001 < 40 ? 0.f : voice[c][at + i];
}

/* A processor keeps its input in its lines, and the same comes out whether these hold damage or zeros in its place. */
static void lines_may_be_written_over(void **state)
{
    (void)state;
    uint32_t lines = 0;
    for (uint32_t i = 0; i < KINDS; ++i) {
        const Kind *k = &kinds[i];
        Player one, other;
        if (!k->processor->line)
            continue;
        ++lines;
        assert_true(play_init(&one, k->processor, RATE, 2) && play_init(&other, k->processor, RATE, 2));
        Delay *const own = processor_lines(k->processor, one.dsp), *const raw =
                                                                       processor_lines(k->processor, other.dsp);
        play_set(&one, k->params[0]);
        play_set(&other, k->params[0]);
        for (uint32_t at = 0; at < LONG / PARTS; at += DSP_CELL) {
            float x[2][DSP_CELL], out[2][2][DSP_CELL];
            with_gaps(at, x);
            const float *const in[] = {x[0], x[1]};
            play(&one, in, (float *const[]){out[0][0], out[0][1]}, DSP_CELL);
            play(&other, in, (float *const[]){out[1][0], out[1][1]}, DSP_CELL);
            write_over(raw, 2, in);
            assert_true(same_bits(out[0], out[1], sizeof out[0]));
            assert_true(delay_tap(&own[0], 0) == x[0][DSP_CELL - 1] && delay_tap(&own[1], 0) == x[1][DSP_CELL - 1]);
        }
        play_reset(&other);
        assert_false(raw[0].raw || raw[1].raw);
        play_done(&one);
        play_done(&other);
    }
    assert_int_equal(lines, 3);
}

static void a_value_is_whole(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < KINDS; ++i) {
        const Processor *p = kinds[i].processor;
        assert_true(p->size > 0 && p->init && p->done && p->reset && p->set && p->tick && p->cell);
        const ProcessorLearned *l = &p->learned;
        assert_true(p->news < p->size && (!p->news || p->told.size || p->report));
        assert_true(!l->schema == !l->version && l->version < p->size && l->memory < p->size);
    }
}

static void what_is_zeroed_can_be_done_with(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < KINDS; ++i) {
        void *dsp = processor_alloc(kinds[i].processor);
        assert_non_null(dsp);
        assert_int_equal((uintptr_t)dsp % PROCESSOR_LINE, 0);
        kinds[i].processor->done(dsp);
        processor_free(dsp);
    }
}

static int sing(void **state)
{
    (void)state;
    for (int k = 0; k < 3; ++k)
        for_chain[k] = (ChainParams){for_trim[k], for_tone[k], for_compressor[k], for_esses[k], for_plate[k], k == 1};
    SingerTake take;
    if (!singer_sing(&(SingerSpec){.voice = SINGER_ALTO, .seed = 3, .rate = RATE, .seconds = 12}, &take))
        return 1;
    const bool whole = take.frames >= LONG;
    for (int c = 0; c < 2; ++c)
        voice[c] = calloc(LONG, sizeof *voice[c]);
    for (uint32_t t = 0; voice[0] && voice[1] && whole && t < LONG; ++t) {
        voice[0][t] = take.audio[t];
        voice[1][t] = 0.7f * take.audio[t];
    }
    singer_free(&take);
    return !voice[0] || !voice[1] || !whole;
}

static int hush(void **state)
{
    (void)state;
    free(voice[0]);
    free(voice[1]);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_same_controls_once_more_change_nothing),
        cmocka_unit_test(blocks_of_any_length_give_the_same_bits),
        cmocka_unit_test(an_output_may_be_an_input),
        cmocka_unit_test(no_cell_works_for_more_than_its_budget),
        cmocka_unit_test(news_tell_of_every_change_of_the_report),
        cmocka_unit_test(lines_may_be_written_over),
        cmocka_unit_test(a_value_is_whole),
        cmocka_unit_test(what_is_zeroed_can_be_done_with),
    };
    return cmocka_run_group_tests(tests, sing, hush);
}
