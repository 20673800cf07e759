/* Check's figures from memories that are made up: no sound, so every answer is known beforehand. */
#include "check_figures.h"

#include "learned_room.h"
#include "loudness.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void assert_near(double value, double wanted, double within)
{
    assert_true(fabs(value - wanted) <= within);
}

static CheckReport figures_of(const CheckMemory *m)
{
    CheckReport r = {0};
    check_figures(m, &r);
    return r;
}

static void count_often(CheckMemory *m, CheckTally which, double value, uint32_t times)
{
    for (uint32_t i = 0; i < times; ++i)
        check_memory_count(m, which, value);
}

/* Three seconds of voice at this level, in a room that is 60 dB quieter. */
static void make_take(CheckMemory *m, double level)
{
    check_memory_clear(m);
    for (uint32_t i = 0; i < CHECK_ENOUGH; ++i)
        check_memory_block(m, level);
    count_often(m, CHECK_NOISE, level - 60.0, 40);
}

/* As many falls, each counted once. */
static void make_falls(CheckMemory *m, double t60, uint32_t falls)
{
    count_often(m, CHECK_DECAYS, log2(t60), falls);
    for (uint32_t i = 0; i < falls; ++i)
        check_memory_more(m, CHECK_MORE_FALLS);
}

static void an_empty_memory_knows_nothing(void **state)
{
    CheckMemory m;
    (void)state;
    check_memory_clear(&m);
    const CheckReport r = figures_of(&m);
    assert_int_equal(r.verdict, VERDICT_LISTENING);
    assert_true(r.voice_level == UNITS_DB_FLOOR && r.peak == UNITS_DB_FLOOR && r.noise_floor == UNITS_DB_FLOOR);
    assert_true(r.hum_level == UNITS_DB_FLOOR && r.hum_hz == 0.0 && r.signal_to_noise == 0.0);
    assert_true(r.decay == 0.0 && r.room == ROOM_UNKNOWN && r.pops == 0.0 && r.uneven == 0.0);
    assert_true(r.lowest == 0.0 && r.highest_hz == 0.0 && r.range == RANGE_UNKNOWN);
    assert_true(r.loudness == LOUDNESS_LOW && r.loudness_range == 0.0);
    for (uint32_t f = 0; f < CHECK_FAULTS; ++f)
        assert_false(r.fault[f]);
}

/* Whatever stood in the report before. */
static void the_report_depends_on_the_memory_alone(void **state)
{
    CheckMemory m;
    CheckReport once = {0}, again;
    (void)state;
    make_take(&m, -18.0);
    make_falls(&m, 0.7, 5);
    check_figures(&m, &once);
    memset(&again, 0x55, sizeof again);
    memset(again.fault, 1, sizeof again.fault);
    for (uint32_t step = 0; step < CHECK_STEPS; ++step)
        check_figures_step(&m, step, &again);
    assert_true(again.voice_level == once.voice_level && again.decay == once.decay && again.verdict == once.verdict);
    assert_memory_equal(again.fault, once.fault, sizeof once.fault);
}

static void voice_and_room(void **state)
{
    CheckMemory m;
    (void)state;
    make_take(&m, -18.0);
    const CheckReport r = figures_of(&m);
    assert_int_equal(r.verdict, VERDICT_READY);
    assert_near(r.voice_level, -18.0, 0.13); /* half a bin */
    assert_near(r.noise_floor, -78.0, 0.26); /* half a bin */
    assert_near(r.signal_to_noise, 60.0, 0.4);
}

/* What is less than 6 dB under the voice is voice that was not taken for one; four blocks are needed. */
static void loud_blocks_of_the_rests_are_voice(void **state)
{
    CheckMemory m;
    (void)state;
    check_memory_clear(&m);
    for (uint32_t i = 0; i < CHECK_ENOUGH; ++i)
        check_memory_block(&m, -18.0);
    for (int i = 0; i < 3; ++i)
        check_memory_more(&m, CHECK_MORE_RESTS);
    count_often(&m, CHECK_NOISE, -23.0, 50);
    assert_true(figures_of(&m).noise_floor == UNITS_DB_FLOOR);
    count_often(&m, CHECK_NOISE, -60.0, 3);
    assert_true(figures_of(&m).noise_floor == UNITS_DB_FLOOR);
    count_often(&m, CHECK_NOISE, -60.0, 1);
    assert_near(figures_of(&m).noise_floor, -60.0, 0.26);
}

/* A hum is steady, and no louder than the rests it stands in. */
static void a_hum_is_steady(void **state)
{
    CheckMemory m;
    (void)state;
    make_take(&m, -18.0);
    count_often(&m, CHECK_HUM_60, -76.0, 2);
    assert_true(figures_of(&m).hum_hz == 0.0);
    count_often(&m, CHECK_HUM_60, -76.0, 1);
    assert_true(figures_of(&m).hum_hz == 60.0);
    assert_near(figures_of(&m).hum_level, -76.0, 0.26);
    count_often(&m, CHECK_HUM_50, -75.5, 4);
    assert_true(figures_of(&m).hum_hz == 50.0);
    make_take(&m, -18.0);
    for (int i = 0; i < 20; ++i)
        check_memory_count(&m, CHECK_HUM_50, -120.0 + 2.0 * i);
    assert_true(figures_of(&m).hum_hz == 0.0);
    make_take(&m, -18.0);
    count_often(&m, CHECK_HUM_50, -70.0, 10);
    assert_true(figures_of(&m).hum_hz == 0.0);
}

static void rooms(void **state)
{
    static const struct {
        double decay;
        uint32_t heard;
        CheckRoom room;
    } row[] = {{0.6, 2, ROOM_UNKNOWN}, {0.2, 3, ROOM_DRY}, {0.4, 3, ROOM_IN_BETWEEN}, {0.6, 3, ROOM_LIVE}};
    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof *row; ++i) {
        CheckMemory m;
        make_take(&m, -18.0);
        make_falls(&m, row[i].decay, row[i].heard);
        const CheckReport r = figures_of(&m);
        assert_int_equal(r.room, row[i].room);
        assert_near(r.decay, row[i].room == ROOM_UNKNOWN ? 0.0 : row[i].decay, 0.025 * row[i].decay);
        assert_int_equal(r.fault[FAULT_ROOMY], row[i].room == ROOM_LIVE);
    }
}

/* Two fifths of what falls count stay under the figure, however few they are; two falls that count for many are two. */
static void falls_count_as_often_as_they_are_worth(void **state)
{
    CheckMemory m;
    (void)state;
    make_take(&m, -18.0);
    make_falls(&m, 0.3, 2);
    make_falls(&m, 0.7, 3);
    assert_near(figures_of(&m).decay, 0.31, 0.015);
    count_often(&m, CHECK_DECAYS, log2(0.7), 1);
    assert_near(figures_of(&m).decay, 0.69, 0.03);
    make_take(&m, -18.0);
    make_falls(&m, 0.7, 2);
    count_often(&m, CHECK_DECAYS, log2(0.7), 60);
    assert_true(figures_of(&m).decay == 0.0);
}

/* A fiftieth of the held frames lies beyond either end: one slip of the tracker is no note. */
static void notes_and_their_pitch(void **state)
{
    CheckMemory m;
    (void)state;
    make_take(&m, -18.0);
    count_often(&m, CHECK_NOTES, 45.1, 11);
    assert_true(figures_of(&m).lowest == 0.0);
    count_often(&m, CHECK_NOTES, 45.1, 1);
    assert_near(figures_of(&m).lowest, 45.005, 0.0001);
    count_often(&m, CHECK_NOTES, 45.1, 2488);
    check_memory_count_many(&m, CHECK_NOTES, 69.1, 2500);
    count_often(&m, CHECK_NOTES, 81.0, 90);
    for (int i = 0; i < 100; ++i)
        check_memory_frame(&m, i % 2, 0, 0);
    CheckReport r = figures_of(&m);
    assert_near(r.lowest, 45.1, 0.13);
    assert_near(r.highest, 69.1, 0.15);
    assert_true(r.lowest_hz == note_to_hz(r.lowest) && r.highest_hz == note_to_hz(r.highest));
    assert_int_equal(r.range, RANGE_BARITONE);
    count_often(&m, CHECK_NOTES, 81.0, 20);
    r = figures_of(&m);
    assert_near(r.highest, 81.0, 0.13);
}

/* Any of the three shares will do: an older memory has the first alone. */
static void what_is_held_is_sung(void **state)
{
    static const struct {
        int steady, sung, lasting;
        VoiceRange range;
    } row[] = {{44, 55, 12, RANGE_SPOKEN_LOW}, {45, 0, 0, RANGE_BASS}, {0, 57, 0, RANGE_BASS}, {0, 13, 13, RANGE_BASS}};
    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof *row; ++i) {
        CheckMemory m;
        make_take(&m, -18.0);
        count_often(&m, CHECK_NOTES, 45.1, 100);
        for (int f = 0; f < 100; ++f)
            check_memory_frame(&m, f < row[i].steady, f < row[i].sung, f < row[i].lasting);
        assert_int_equal(figures_of(&m).range, row[i].range);
    }
}

/* Three rests, or 1.5 s of them; and not where nearly all is digital silence. */
static void a_few_rests_tell_no_noise(void **state)
{
    CheckMemory m;
    (void)state;
    check_memory_clear(&m);
    for (uint32_t i = 0; i < CHECK_ENOUGH; ++i)
        check_memory_block(&m, -18.0);
    count_often(&m, CHECK_NOISE, -40.0, 37);
    check_memory_more(&m, CHECK_MORE_RESTS);
    check_memory_more(&m, CHECK_MORE_RESTS);
    assert_true(figures_of(&m).noise_floor == UNITS_DB_FLOOR && !figures_of(&m).fault[FAULT_NOISY]);
    assert_near(figures_of(&m).rest_heard, 37 * 0.04, 1e-9);
    check_memory_more(&m, CHECK_MORE_RESTS);
    assert_near(figures_of(&m).noise_floor, -40.0, 0.26);
    assert_true(figures_of(&m).fault[FAULT_NOISY]);
    for (int i = 0; i < 593; ++i) /* four times 37 blocks of 0.04 s, and a frame */
        check_memory_more(&m, CHECK_MORE_SILENT);
    assert_true(figures_of(&m).noise_floor == UNITS_DB_FLOOR);
    check_memory_clear(&m);
    for (uint32_t i = 0; i < CHECK_ENOUGH; ++i)
        check_memory_block(&m, -18.0);
    count_often(&m, CHECK_NOISE, -40.0, 38);
    assert_near(figures_of(&m).noise_floor, -40.0, 0.26);
}

/* Half of what is sung lies 10 cents over, half 20 cents under, all of it 45 cents under concert pitch; and round the
 * semitone. A take that is spoken has no tuning. */
static void tuning_is_told_of_what_is_sung(void **state)
{
    CheckMemory m;
    (void)state;
    make_take(&m, -18.0);
    count_often(&m, CHECK_NOTES, 45.1, 100);
    for (int i = 0; i < 100; ++i)
        check_memory_frame(&m, false, 1, 0);
    count_often(&m, CHECK_CENTS, 0.65, 49);
    count_often(&m, CHECK_CENTS, 0.35, 50);
    assert_true(figures_of(&m).out_of_tune == -1.0 && figures_of(&m).tuning == 0.0);
    count_often(&m, CHECK_CENTS, 0.65, 1);
    CheckReport r = figures_of(&m);
    assert_near(fabs(r.tuning), 50.0, 1.0);
    assert_near(r.out_of_tune, 15.0, 1.0);
    assert_near(r.far_out, 0.0, 1e-9);
    count_often(&m, CHECK_CENTS, 0.10, 100);
    r = figures_of(&m);
    assert_near(r.tuning, 19.3, 0.6); /* by hand: the angle of the sum of three vectors */
    assert_near(r.far_out, 0.25, 1e-9);
    for (int i = 0; i < 100; ++i)
        check_memory_frame(&m, false, 0, 0);
    assert_true(figures_of(&m).out_of_tune == -1.0);
}

/* Five clicks and more than eight a minute; three breaths; by the level of the voice. */
static void clicks_and_breaths(void **state)
{
    CheckMemory m;
    (void)state;
    make_take(&m, -18.0);
    count_often(&m, CHECK_CLICK_LEVELS, -51.0, 9);
    count_often(&m, CHECK_CLICK_LEVELS, -48.0, 4);
    assert_true(figures_of(&m).clicks == 4.0 && !figures_of(&m).fault[FAULT_CLICKING]);
    count_often(&m, CHECK_CLICK_LEVELS, -48.0, 1);
    assert_true(figures_of(&m).fault[FAULT_CLICKING]);
    assert_int_equal(figures_of(&m).verdict, VERDICT_CLICKING);
    for (int i = 0; i < 600; ++i)
        check_memory_block(&m, -18.0);
    assert_false(figures_of(&m).fault[FAULT_CLICKING]); /* in more than a minute */

    make_take(&m, -18.0);
    count_often(&m, CHECK_BREATH_LEVELS, -37.0, 9); /* quiet ones */
    count_often(&m, CHECK_BREATH_LEVELS, -20.0, 9); /* no breaths, so loud */
    count_often(&m, CHECK_BREATH_LEVELS, -30.0, 2);
    assert_true(figures_of(&m).breaths == 2.0 && !figures_of(&m).fault[FAULT_BREATHY]);
    count_often(&m, CHECK_BREATH_LEVELS, -26.0, 1);
    assert_int_equal(figures_of(&m).verdict, VERDICT_BREATHY);
    assert_near(figures_of(&m).breath_level, -30.0, 0.6);
}

/* A time is that of the fault, and is told while it is one. */
static void faults_have_their_time(void **state)
{
    CheckMemory m;
    (void)state;
    make_take(&m, -27.0);
    assert_true(figures_of(&m).last[FAULT_TOO_QUIET] == -1.0);
    assert_true(check_memory_when(&m, FAULT_TOO_QUIET, 2.01));
    assert_false(check_memory_when(&m, FAULT_TOO_QUIET, 2.015)); /* the same step */
    assert_false(check_memory_when(&m, FAULT_TOO_QUIET, 1.0));
    assert_true(check_memory_when(&m, FAULT_POPPING, 5.0));
    assert_near(figures_of(&m).last[FAULT_TOO_QUIET], 2.015625, 1e-9);
    assert_true(figures_of(&m).last[FAULT_POPPING] == -1.0);
    assert_true(check_memory_when(&m, FAULT_TOO_QUIET, -3.0) == false);
    assert_true(check_memory_when(&m, FAULT_TOO_QUIET, 1e9)); /* as far as it goes: 18 hours */
    assert_near(figures_of(&m).last[FAULT_TOO_QUIET], 65535.0, 1e-9);
}

/* A far quieter window makes the earlier ones count no more; a far louder one is not looked at. */
static void hum_is_looked_for_where_it_is_quietest(void **state)
{
    CheckMemory m;
    (void)state;
    make_take(&m, -18.0);
    assert_true(check_memory_window(&m, -50.0));
    count_often(&m, CHECK_HUM_50, -76.0, 4);
    assert_true(check_memory_window(&m, -44.5));
    assert_false(check_memory_window(&m, -43.5));
    assert_true(check_memory_window(&m, -54.0));
    assert_true(figures_of(&m).hum_hz == 50.0);
    assert_true(check_memory_window(&m, -59.5));
    assert_true(figures_of(&m).hum_hz == 0.0);
    assert_false(check_memory_window(&m, -50.0));
    assert_true(check_memory_window(&m, -300.0)); /* no lower than the scale */
}

/* From the level that an eighth of the phrases stay under to the one that an eighth pass; and what passes a gate. */
static void spreads(void **state)
{
    CheckMemory m;
    (void)state;
    make_take(&m, -18.0);
    for (int i = 0; i < 100; ++i) {
        check_memory_count(&m, CHECK_PHRASES, -30.0 + 0.1 * i);
        check_memory_count(&m, CHECK_SHORT_TERM, -30.0 + 0.1 * i);
        check_memory_count(&m, CHECK_SHORT_TERM, -60.0);
        check_memory_count(&m, CHECK_MOMENTARY, -23.1);
        check_memory_count(&m, CHECK_MOMENTARY, -40.0);
    }
    const CheckReport r = figures_of(&m);
    assert_near(r.uneven, 7.4, 0.3);
    assert_near(r.loudness_range, 8.5, 0.3); /* 10th to 95th percentile */
    assert_near(r.loudness, -23.1, 0.11);
}

/* Every fault alone gives its verdict; one step short of it there is none. */
static void each_fault_has_its_verdict(void **state)
{
    static const struct {
        double level;
        int clipped;
        CheckTally which;
        double value;
        uint32_t times;
        CheckFault fault;
        CheckVerdict verdict;
    } row[] = {
        {-24.5, 0, CHECK_NOISE, -90.0, 0, FAULT_TOO_QUIET, VERDICT_TOO_QUIET},
        {-23.5, 0, CHECK_NOISE, -90.0, 0, CHECK_FAULTS, VERDICT_READY},
        {-11.5, 0, CHECK_NOISE, -90.0, 0, FAULT_TOO_LOUD, VERDICT_TOO_LOUD},
        {-12.5, 0, CHECK_NOISE, -90.0, 0, CHECK_FAULTS, VERDICT_READY},
        {-18.0, 4, CHECK_NOISE, -90.0, 0, FAULT_CLIPPED, VERDICT_CLIPPED},
        {-18.0, 3, CHECK_NOISE, -90.0, 0, CHECK_FAULTS, VERDICT_READY},
        {-18.0, 0, CHECK_NOISE, -57.0, 900, FAULT_NOISY, VERDICT_NOISY},
        {-18.0, 0, CHECK_NOISE, -59.0, 900, CHECK_FAULTS, VERDICT_READY},
        {-18.0, 0, CHECK_BURSTS, -10.0, 2, FAULT_POPPING, VERDICT_POPPING},
        {-18.0, 0, CHECK_BURSTS, -10.0, 1, CHECK_FAULTS, VERDICT_READY},
        {-18.0, 0, CHECK_BURSTS, -19.0, 9, CHECK_FAULTS, VERDICT_READY},
    };
    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof *row; ++i) {
        CheckMemory m;
        make_take(&m, row[i].level);
        check_memory_peak(&m, -3.0, (uint32_t)row[i].clipped);
        count_often(&m, row[i].which, row[i].value, row[i].times);
        const CheckReport r = figures_of(&m);
        assert_int_equal(r.verdict, row[i].verdict);
        for (uint32_t f = 0; f < CHECK_FAULTS; ++f)
            assert_int_equal(r.fault[f], f == row[i].fault);
    }
}

/* Both are faults; what lies further past its limit, in steps, is named. Nothing before three seconds of voice. */
static void the_worst_fault_is_named(void **state)
{
    CheckMemory m;
    (void)state;
    make_take(&m, -27.0);                    /* half a step too quiet */
    count_often(&m, CHECK_BURSTS, -10.0, 9); /* four steps */
    const CheckReport r = figures_of(&m);
    assert_true(r.fault[FAULT_TOO_QUIET] && r.fault[FAULT_POPPING]);
    assert_int_equal(r.verdict, VERDICT_POPPING);
    check_memory_clear(&m);
    for (uint32_t i = 0; i + 1 < CHECK_ENOUGH; ++i)
        level_memory_add(&m.level, -40.0);
    assert_int_equal(figures_of(&m).verdict, VERDICT_LISTENING);
    assert_false(figures_of(&m).fault[FAULT_TOO_QUIET]);
}

/* ---- The memory ---- */

static void a_stored_memory_comes_back(void **state)
{
    CheckMemory m, restored;
    Learned learned = LEARNED_WITH_ROOM;
    (void)state;
    make_take(&m, -18.3);
    for (uint32_t t = 0; t < CHECK_TALLIES; ++t)
        for (uint32_t b = 0; b < check_scale[t].bins; b += 1 + t)
            m.tally[t].count[b] = (uint16_t)(b + t);
    check_memory_peak(&m, -1.2345, 77);
    for (uint32_t i = 0; i < 9; ++i)
        check_memory_frame(&m, i % 3 == 0, i, i % 2);
    for (uint32_t f = 0; f < CHECK_TIMES; ++f)
        check_memory_when(&m, f, 0.3 + 777.7 * f);
    check_memory_window(&m, -66.6);
    check_memory_block(&m, -20.0);
    learned_get(&check_schema, &m, &learned);
    learned_check(&check_schema, &learned);
    make_take(&restored, -30.0);
    learned_put(&check_schema, &restored, &learned);
    assert_memory_equal(&restored, &m, sizeof m);
}

/* Of what an older version stored, what later ones count besides is not there. */
static void an_older_memory_shows_what_it_showed(void **state)
{
    CheckMemory m;
    Learned learned = LEARNED_WITH_ROOM;
    (void)state;
    make_take(&m, -18.0);
    count_often(&m, CHECK_NOTES, 45.1, 100);
    for (int i = 0; i < 100; ++i)
        check_memory_frame(&m, i % 2, 0, 0);
    check_memory_peak(&m, -3.0, 7);
    learned_get(&check_schema, &m, &learned);
    for (uint32_t f = 0; f < check_schema.fields; ++f) {
        const char *const name = check_schema.field[f].name;
        if (!strcmp(name, "check_tuning") || !strcmp(name, "check_clicks") || !strcmp(name, "check_breaths") ||
            !strcmp(name, "check_more") || !strcmp(name, "check_when"))
            learned.count[f] = 0;
    }
    make_take(&m, -30.0);
    learned_put(&check_schema, &m, &learned);
    const CheckReport r = figures_of(&m);
    assert_int_equal(m.more[CHECK_MORE_RESTS], 0);
    assert_int_equal(r.range, RANGE_BASS);
    assert_int_equal(r.verdict, VERDICT_CLIPPED);
    assert_true(r.last[FAULT_CLIPPED] == -1.0 && r.clicks == 0.0 && r.out_of_tune == -1.0);
    assert_near(r.noise_floor, -78.0, 0.26);
}

/* One that did not count the falls yet, but the rest: that comes back. */
static void a_memory_without_a_count_of_falls(void **state)
{
    CheckMemory m, restored;
    Learned learned = LEARNED_WITH_ROOM;
    (void)state;
    make_take(&m, -18.0);
    check_memory_more(&m, CHECK_MORE_RESTS);
    learned_get(&check_schema, &m, &learned);
    for (uint32_t f = 0; f < check_schema.fields; ++f) {
        float *const value = learned_field(&check_schema, &learned, f);
        if (strcmp(check_schema.field[f].name, "check_more") != 0)
            continue;
        memmove(value, value + 1, (CHECK_MORE - 1) * sizeof *value);
        learned.count[f] = CHECK_MORE - 1;
    }
    make_take(&restored, -30.0);
    make_falls(&restored, 0.7, 5);
    learned_put(&check_schema, &restored, &learned);
    assert_memory_equal(&restored, &m, sizeof m);
}

/* Faults in steps of 1/128 s, now in steps of 1/8 s. */
static void times_are_rounded_up(void **state)
{
    CheckMemory m;
    (void)state;
    check_memory_clear(&m);
    assert_true(check_memory_time(&m, FAULT_HUM) == -1.0);
    assert_true(check_memory_when(&m, FAULT_HUM, 10.001) && check_memory_when(&m, CHECK_NOW, 10.001));
    assert_true(check_memory_time(&m, FAULT_HUM) == 10.0078125 && check_memory_time(&m, CHECK_NOW) == 10.125);
    assert_false(check_memory_when(&m, FAULT_HUM, 10.007) || check_memory_when(&m, CHECK_NOW, 10.12));
    assert_true(check_memory_when(&m, FAULT_HUM, 1e9));
    assert_true(check_memory_time(&m, FAULT_HUM) == TALLY_MOST);
}

/* A peak is rounded up, so that no figure shows less than there was. */
static void peaks_and_clipped_samples(void **state)
{
    CheckMemory m;
    (void)state;
    check_memory_clear(&m);
    assert_true(check_memory_peak(&m, -1.001, 0));
    assert_true(m.peak >= -1.001 && m.peak < -1.001 + 1.0 / 256.0);
    assert_false(check_memory_peak(&m, -3.0, 0));
    assert_true(check_memory_peak(&m, -3.0, 65000));
    assert_true(m.peak > -1.01 && m.counter[CHECK_COUNT_CLIPPED] == 65000);
    assert_true(check_memory_peak(&m, -3.0, 65000));
    assert_int_equal(m.counter[CHECK_COUNT_CLIPPED], TALLY_MOST);
}

static void count_tops(CheckMemory *m, double db, uint32_t round, uint32_t flat)
{
    for (uint32_t i = 0; i < round + flat; ++i)
        check_memory_top(m, db, i < flat);
}

/* Clipped where flat ones are among the highest, not few, and not a few among many. */
static void flat_tops(void **state)
{
    static const struct {
        double level;
        uint32_t round, flat, above;
        double found;
    } row[] = {
        {-6.1, 0, 8, 0, 8},    {-6.1, 0, 7, 0, 0},   {-6.1, 45, 8, 0, 8},     {-6.1, 46, 8, 0, 0},
        {-6.1, 0, 40, 10, 40}, {-6.1, 0, 40, 11, 0}, {-28.1, 300, 90, 5, 90}, {0.1, 10, 90, 0, 90},
    };
    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof *row; ++i) {
        CheckMemory m;
        make_take(&m, -18.0);
        count_tops(&m, row[i].level, row[i].round, row[i].flat);
        count_tops(&m, row[i].level + 1.5, row[i].above, 0);
        count_tops(&m, row[i].level - 3.0, 500, 0);
        const CheckReport r = figures_of(&m);
        assert_true(r.flat_tops == row[i].found);
        assert_near(r.flat_tops_level, row[i].found > 0.0 ? row[i].level : UNITS_DB_FLOOR, 0.13);
        assert_int_equal(r.verdict, row[i].found > 0.0 ? VERDICT_CLIPPED : VERDICT_READY);
    }
}

/* The share of flat ones stays when a bin is full. */
static void tops_are_halved_when_full(void **state)
{
    CheckMemory m;
    (void)state;
    make_take(&m, -18.0);
    count_tops(&m, -6.1, TALLY_MOST - 9000, 9000);
    check_memory_top(&m, -6.1, false);
    assert_int_equal(check_memory_total(&m, CHECK_TOP_LEVELS), (TALLY_MOST + 1) / 2);
    assert_int_equal(check_memory_total(&m, CHECK_FLAT_LEVELS), 4500);
}

/* The share of steady frames stays when the counter is full. */
static void frames_are_halved_when_full(void **state)
{
    CheckMemory m;
    (void)state;
    check_memory_clear(&m);
    for (uint32_t i = 0; i <= TALLY_MOST; ++i)
        check_memory_frame(&m, i % 4 == 0, 1, i % 2);
    assert_int_equal(m.counter[CHECK_COUNT_VOICED], (TALLY_MOST + 1) / 2);
    assert_near((double)m.counter[CHECK_COUNT_STEADY] / m.counter[CHECK_COUNT_VOICED], 0.25, 1e-4);
    assert_near((double)m.more[CHECK_MORE_SUNG] / m.counter[CHECK_COUNT_VOICED], 1.0, 1e-4);
    assert_near((double)m.more[CHECK_MORE_LASTING] / m.counter[CHECK_COUNT_VOICED], 0.5, 1e-4);
    check_memory_count_many(&m, CHECK_CLICK_LEVELS, -20.0, 100);
    for (uint32_t i = 0; i <= TALLY_MOST; ++i)
        check_memory_block(&m, -18.0);
    assert_int_equal(m.more[CHECK_MORE_BLOCKS], (TALLY_MOST + 1) / 2);
    assert_int_equal(tally_total(&m.tally[CHECK_CLICK_LEVELS], &check_scale[CHECK_CLICK_LEVELS]), 50);
    for (uint32_t i = 0; i <= TALLY_MOST; ++i)
        check_memory_more(&m, CHECK_MORE_RESTS);
    assert_int_equal(m.more[CHECK_MORE_RESTS], TALLY_MOST);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_empty_memory_knows_nothing),
        cmocka_unit_test(the_report_depends_on_the_memory_alone),
        cmocka_unit_test(voice_and_room),
        cmocka_unit_test(loud_blocks_of_the_rests_are_voice),
        cmocka_unit_test(a_hum_is_steady),
        cmocka_unit_test(rooms),
        cmocka_unit_test(falls_count_as_often_as_they_are_worth),
        cmocka_unit_test(notes_and_their_pitch),
        cmocka_unit_test(what_is_held_is_sung),
        cmocka_unit_test(a_few_rests_tell_no_noise),
        cmocka_unit_test(tuning_is_told_of_what_is_sung),
        cmocka_unit_test(clicks_and_breaths),
        cmocka_unit_test(faults_have_their_time),
        cmocka_unit_test(hum_is_looked_for_where_it_is_quietest),
        cmocka_unit_test(spreads),
        cmocka_unit_test(each_fault_has_its_verdict),
        cmocka_unit_test(the_worst_fault_is_named),
        cmocka_unit_test(a_stored_memory_comes_back),
        cmocka_unit_test(an_older_memory_shows_what_it_showed),
        cmocka_unit_test(a_memory_without_a_count_of_falls),
        cmocka_unit_test(times_are_rounded_up),
        cmocka_unit_test(peaks_and_clipped_samples),
        cmocka_unit_test(flat_tops),
        cmocka_unit_test(tops_are_halved_when_full),
        cmocka_unit_test(frames_are_halved_when_full),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
