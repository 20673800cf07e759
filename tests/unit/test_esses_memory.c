/* The memory of sibilants and what is worked out of it, from tables of levels: no sound. */
#include "esses_band.h"

#include "learned_room.h"
#include "seeds.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

static void assert_near(double value, double wanted, double within)
{
    assert_true(fabs(value - wanted) <= within);
}

/* One that is as loud in every band. */
static EssesChange add_flat(EssesMemory *m, double db)
{
    return esses_memory_add(m, (const double[SIBILANCE_BANDS]){db, db, db, db, db});
}

/* One that is densest in a band, by about 6 dB over its neighbours: so the top lies near the band's middle. */
static void add_peak(EssesMemory *m, uint32_t band, double db)
{
    double level[SIBILANCE_BANDS];
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        level[b] = db + 1.5 * b - 6.0 * fabs((double)b - band);
    esses_memory_add(m, level);
}

static EssesMemory *with_known(uint32_t count, double first, double step)
{
    EssesMemory *m = malloc(sizeof *m);
    assert_non_null(m);
    esses_memory_clear(m);
    for (uint32_t i = 0; i < count; ++i)
        add_flat(m, first + step * i);
    return m;
}

static double times_in_all(const EssesMemory *m)
{
    double times = 0.0;
    for (uint32_t i = 0; i < m->count; ++i)
        times += (double)m->known[i].times;
    return times;
}

static const double whole_band[SIBILANCE_BANDS] = {1, 1, 1, 1, 1};

/* ---- The memory ---- */

static void five_make_a_memory(void **state)
{
    EssesMemory *m = with_known(0, 0.0, 0.0);
    (void)state;
    for (int i = 0; i < ESSES_ENOUGH - 1; ++i) {
        assert_int_equal(add_flat(m, -40.0), ESSES_KEPT_APART);
        assert_int_equal(m->count, 0);
    }
    assert_int_equal(add_flat(m, -40.0), ESSES_REPLACED);
    assert_true(m->count == ESSES_ENOUGH && !m->afresh && m->fresh_count == 0);
    assert_int_equal(add_flat(m, -40.0), ESSES_ADDED);
    assert_int_equal(m->count, ESSES_ENOUGH + 1);
    free(m);
}

static void a_fresh_start_keeps_the_old_until_five(void **state)
{
    EssesMemory *m = with_known(9, -40.0, 0.0);
    (void)state;
    esses_memory_start_afresh(m);
    for (int i = 0; i < ESSES_ENOUGH - 1; ++i)
        add_flat(m, -70.0);
    assert_int_equal(m->count, 9);
    assert_near(esses_figures_upper(m, whole_band), -37.0 + 10.0 * log10(5.0), 1e-9);
    esses_memory_start_afresh(m); /* once more: the four are forgotten */
    add_flat(m, -60.0);
    assert_true(m->count == 9 && m->fresh_count == 1);
    for (int i = 0; i < ESSES_ENOUGH - 1; ++i)
        add_flat(m, -60.0);
    assert_int_equal(m->count, ESSES_ENOUGH);
    assert_near(esses_figures_upper(m, whole_band), -57.0 + 10.0 * log10(5.0), 1e-9);
    free(m);
}

static void levels_are_rounded_and_held(void **state)
{
    EssesMemory *m = with_known(5, -33.3333, 0.0);
    (void)state;
    assert_true((double)m->known[0].sibilant.level[2] == learned_round(-33.3333));
    add_flat(m, 1000.0);
    add_flat(m, -INFINITY);
    assert_true(m->known[5].sibilant.level[0] == 60.f && m->known[6].sibilant.level[0] == -200.f);
    free(m);
}

/* 200 that lie 1 dB apart but for two, which lie 0.25 dB apart, and one more 300 dB^2 away from all. */
static void the_two_nearest_become_one(void **state)
{
    EssesMemory *m = with_known(ESSES_MEMORY - 1, -190.0, 1.0);
    (void)state;
    add_flat(m, -100.25); /* beside place 90, which holds -100 */
    assert_int_equal(m->count, ESSES_MEMORY);
    add_flat(m, 30.0);
    assert_int_equal(m->count, ESSES_MEMORY);
    assert_true(m->known[90].times == 2.f);
    assert_true((double)m->known[90].sibilant.level[0] == learned_round(-100.125));
    assert_true(m->known[ESSES_MEMORY - 1].sibilant.level[0] == 30.f); /* the last has moved up */
    assert_true(times_in_all(m) == ESSES_MEMORY + 1.0);
    free(m);
}

/* The mean of all in each band is that of what came, to half a step of the levels and a little: rounding is even. */
static void joining_keeps_counts_and_means(void **state)
{
    EssesMemory *m = with_known(0, 0.0, 0.0);
    uint32_t seed = seeded(7);
    double sum = 0.0, kept = 0.0;
    (void)state;
    for (uint32_t i = 0; i < 2000; ++i) {
        double level[SIBILANCE_BANDS];
        for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b) {
            seed = seed * 1664525u + 1013904223u;
            level[b] = -40.0 + 20.0 * (double)(seed >> 8) / 16777216.0;
        }
        sum += learned_round(level[1]);
        esses_memory_add(m, level);
    }
    for (uint32_t i = 0; i < m->count; ++i)
        kept += (double)m->known[i].times * (double)m->known[i].sibilant.level[1];
    assert_true(times_in_all(m) == 2000.0);
    assert_near(kept / 2000.0, sum / 2000.0, 0.5 / 256.0);
    free(m);
}

/* As kept up one by one, so as found by looking at all pairs. */
static void the_nearest_is_the_nearest(void **state)
{
    EssesMemory *m = with_known(0, 0.0, 0.0);
    uint32_t seed = seeded(11);
    (void)state;
    for (uint32_t i = 0; i < 700; ++i) {
        double level[SIBILANCE_BANDS];
        for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b) {
            seed = seed * 1664525u + 1013904223u;
            level[b] = -40.0 + (double)(seed >> 28); /* whole: many are equal or equally near */
        }
        esses_memory_add(m, level);
    }
    for (uint32_t i = 0; i < m->count; ++i) {
        double least = INFINITY;
        uint32_t nearest = 0;
        for (uint32_t k = 0; k < m->count; ++k) {
            double squares = 0.0;
            for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
                squares += pow((double)m->known[i].sibilant.level[b] - (double)m->known[k].sibilant.level[b], 2.0);
            if (k == i || squares >= least)
                continue;
            least = squares;
            nearest = k;
        }
        assert_true(m->known[i].distance == least && m->known[i].nearest == nearest);
    }
    free(m);
}

static bool same_one(const EssesKnown *a, const EssesKnown *b)
{
    for (uint32_t k = 0; k < SIBILANCE_BANDS; ++k)
        if (a->sibilant.level[k] != b->sibilant.level[k] || a->power[k] != b->power[k])
            return false;
    return a->times == b->times;
}

static bool same_known(const EssesMemory *a, const EssesMemory *b)
{
    for (uint32_t i = 0; i < a->count; ++i)
        if (!same_one(&a->known[i], &b->known[i]))
            return false;
    for (uint32_t i = 0; i < a->fresh_count; ++i)
        if (a->fresh[i].level[0] != b->fresh[i].level[0])
            return false;
    return a->count == b->count && a->fresh_count == b->fresh_count && a->afresh == b->afresh;
}

static void a_stored_memory_goes_on_as_it_would_have(void **state)
{
    EssesMemory *m = with_known(260, -90.0, 0.3), *restored = with_known(7, 0.0, 1.0);
    Learned l = LEARNED_WITH_ROOM;
    (void)state;
    learned_get(&esses_schema, m, &l);
    learned_check(&esses_schema, &l);
    learned_put(&esses_schema, restored, &l);
    assert_true(same_known(m, restored));
    for (uint32_t i = 0; i < 50; ++i) { /* some steps are done before the first sibilant */
        esses_memory_step(restored);
        esses_memory_step(m);
    }
    for (uint32_t i = 0; i < 50; ++i) {
        add_flat(m, -60.0 + 0.7 * i);
        add_flat(restored, -60.0 + 0.7 * i);
        assert_true(same_known(m, restored));
    }
    esses_memory_start_afresh(m);
    add_flat(m, -50.0);
    learned_get(&esses_schema, m, &l);
    learned_put(&esses_schema, restored, &l);
    assert_true(same_known(m, restored) && restored->afresh && restored->fresh_count == 1);
    free(m);
    free(restored);
}

static void damaged_fields_are_none(void **state)
{
    EssesMemory *m = with_known(8, -40.0, 1.0);
    Learned l = LEARNED_WITH_ROOM;
    (void)state;
    learned_get(&esses_schema, m, &l);
    l.count[1] = 3; /* does not fit the levels */
    learned_put(&esses_schema, m, &l);
    assert_true(m->count == 8 && times_in_all(m) == 8.0 && !m->afresh);
    l.count[0] = 8 * SIBILANCE_BANDS - 1;
    learned_put(&esses_schema, m, &l);
    assert_true(m->count == 0 && m->afresh);
    l.count[0] = 4 * SIBILANCE_BANDS;
    learned_put(&esses_schema, m, &l);
    assert_true(m->count == 0 && m->afresh);
    free(m);
}

/* ---- The figures ---- */

static const double third[SIBILANCE_BANDS] = {0, 0, 1, 0, 0};

/* Six 1.5 dB apart and four 0.5 dB over them: the median lies between two, the lower end where the first tenth ends. */
static void the_upper_end_lies_over_the_middle_by_the_mirrored_range(void **state)
{
    EssesMemory *m = with_known(6, -40.0, 1.5);
    (void)state;
    for (int i = 0; i < 4; ++i)
        add_flat(m, -32.0);
    assert_near(esses_figures_upper(m, third), -33.25 + 0.85 * 6.0, 1e-9);
    add_flat(m, 20.0); /* one that explodes: the median goes up by half a step, the lower end by a tenth */
    assert_near(esses_figures_upper(m, third), -32.5 + 0.85 * (-32.5 + 39.1), 1e-9);
    m->known[10].times = 2.f; /* it came twice */
    assert_near(esses_figures_upper(m, third), -32.25 + 0.85 * (-32.25 + 38.95), 1e-9);
    free(m);
}

/* Two kinds of s, one of them 12 dB louder: from a quarter and one on it is usual too. */
static void what_every_fourth_does_is_usual(void **state)
{
    EssesMemory *m = with_known(15, -40.0, 0.0);
    (void)state;
    for (int i = 0; i < 5; ++i)
        add_flat(m, -28.0);
    assert_near(esses_figures_upper(m, third), -40.0 + 3.0, 1e-9);
    add_flat(m, -28.0); /* the share ends between the two kinds */
    assert_near(esses_figures_upper(m, third), -37.0 + 2.5, 1e-9);
    add_flat(m, -28.0);
    assert_near(esses_figures_upper(m, third), -28.0 + 2.5, 1e-9);
    free(m);
}

/* However loud those are that explode, it is the same. */
static void what_explodes_does_not_raise_it(void **state)
{
    double upper[2];
    (void)state;
    for (int loud = 0; loud < 2; ++loud) {
        EssesMemory *m = with_known(20, -40.0, 0.5);
        add_flat(m, loud ? 10.0 : -29.0);
        add_flat(m, loud ? 14.0 : -28.5);
        upper[loud] = esses_figures_upper(m, third);
        free(m);
    }
    assert_near(upper[0], upper[1], 1e-9);
}

static void an_even_voice_has_a_range_of_3_db(void **state)
{
    EssesMemory *m = with_known(30, -40.0, 0.01);
    (void)state;
    assert_near(esses_figures_upper(m, third), -40.0 + 0.145 + 3.0, 1.0 / 256.0);
    free(m);
}

/* Of twenty, two more than 8 dB under the median: of the others one in ten lies 6 dB under it. */
static void the_faint_are_left_out(void **state)
{
    EssesMemory *m = with_known(16, -40.0, 0.0);
    (void)state;
    add_flat(m, -46.0);
    add_flat(m, -46.0);
    assert_near(esses_figures_upper(m, third), -40.0 + 0.85 * 4.2, 1e-9); /* between those at -46 and those at -40 */
    add_flat(m, -48.1);
    add_flat(m, -60.0);
    assert_near(esses_figures_upper(m, third), -40.0 + 0.85 * 4.2, 1e-9);
    add_flat(m, -47.9);
    assert_near(esses_figures_upper(m, third), -40.0 + 0.85 * 6.0, 1e-9);
    free(m);
}

/* The highest group of a quarter or more, faint ones left out. */
static void the_centre_is_that_of_the_highest_group(void **state)
{
    static const struct {
        uint32_t low, high, faint; /* sibilants in the second band, the fourth, and faint ones in the fourth */
        uint32_t band;             /* where the centre lies */
    } row[] = {{20, 20, 0, 3}, {20, 7, 0, 3}, {20, 6, 0, 1}, {20, 0, 15, 1}};
    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof *row; ++i) {
        EssesMemory *m = with_known(0, 0.0, 0.0);
        for (uint32_t k = 0; k < row[i].low; ++k)
            add_peak(m, 1, -70.0);
        for (uint32_t k = 0; k < row[i].high; ++k)
            add_peak(m, 3, -70.0);
        for (uint32_t k = 0; k < row[i].faint; ++k)
            add_peak(m, 3, -76.5);
        const double centre = esses_figures_centre(m, esses_figures_faintest(m));
        assert_near(centre, log2(sibilance_hz[row[i].band]), 1.0 / 12.0);
        assert_near(24.0 * centre, round(24.0 * centre), 1e-9);
        free(m);
    }
}

static void too_few_have_no_centre(void **state)
{
    EssesMemory *m = with_known(0, 0.0, 0.0);
    (void)state;
    for (int i = 0; i < ESSES_ENOUGH - 1; ++i)
        add_peak(m, 2, -70.0);
    assert_true(esses_figures_centre(m, -300.0) == 0.0);
    add_peak(m, 2, -70.0);
    assert_true(esses_figures_centre(m, esses_figures_faintest(m)) > 0.0);
    free(m);
}

/* Spread so evenly that no third of an octave holds a quarter: the median of all. A group of one is enough where that
 * one stands for many. */
static void without_a_group_all_count(void **state)
{
    EssesMemory *m = with_known(5, -40.0, 0.0);
    (void)state;
    for (uint32_t i = 0; i < 5; ++i) {
        m->known[i].density = 0.0;
        m->known[i].densest = log2(3000.0) + 0.36 * i;
    }
    assert_near(esses_figures_centre(m, -1.0), log2(3000.0) + 0.36 * 2.0, 0.5 / 24.0 + 1e-9);
    m->known[3].times = 2.f;
    assert_near(esses_figures_centre(m, -1.0), log2(3000.0) + 0.36 * 3.0, 0.5 / 24.0 + 1e-9);
    free(m);
}

/* ---- The band ---- */

static EssesBand band_at(const EssesMemory *m, double centre, double width, bool listening)
{
    EssesBand b = {.rate = 48000.0};
    esses_band_set(&b, m, centre, width, listening);
    return b;
}

/* Each of the five counts by how much of its half octave lies within. */
static void a_band_takes_in_its_share_of_the_five(void **state)
{
    EssesMemory *m = with_known(5, -40.0, 0.0);
    (void)state;
    const EssesBand one = band_at(m, sibilance_hz[2], 0.5, false);
    assert_near(one.weight[2], 1.0, 1e-4);
    assert_near(one.weight[1] + one.weight[3], 0.0, 1e-3);
    assert_near(one.upper, -37.0, 0.01);
    const EssesBand two = band_at(m, sibilance_hz[2], 1.0, false);
    assert_near(two.weight[1], 0.5, 1e-3);
    assert_near(two.weight[3], 0.5, 1e-3);
    assert_near(two.upper, -37.0 + 10.0 * log10(2.0), 0.01);
    assert_near(band_at(m, sibilance_hz[2], 0.7, false).weight[1], 0.2, 1e-3);
    free(m);
}

/* A band that starts above 0.45 of the rate is out of reach. */
static void a_low_rate_is_out_of_reach(void **state)
{
    EssesMemory *m = with_known(5, -40.0, 0.0);
    EssesBand b = {.rate = 16000.0};
    (void)state;
    esses_band_set(&b, m, 7000.0, 0.5, false);
    assert_true(b.in_reach);
    esses_band_set(&b, m, 9000.0, 0.5, false);
    assert_false(b.in_reach);
    free(m);
}

/* One more: the upper end at once, the centre within 96 cells, and only where the band is to follow it. */
static void a_new_sibilant_moves_the_band_in_steps(void **state)
{
    (void)state;
    for (int listening = 0; listening < 2; ++listening) {
        EssesMemory *m = with_known(0, 0.0, 0.0);
        for (uint32_t k = 0; k < 12; ++k)
            add_peak(m, 1, -70.0);
        EssesBand b = band_at(m, 6000.0, 1.0, listening);
        esses_band_renew(&b, m);
        const double before = b.middle, upper = b.upper;
        for (uint32_t k = 0; k < 12; ++k)
            add_peak(m, 3, -60.0);
        esses_band_added(&b, m);
        assert_true(b.upper != upper && b.middle == before);
        for (uint32_t cell = 1; cell < 96; ++cell) {
            esses_band_step(&b, m);
            assert_true(b.middle == before);
        }
        esses_band_step(&b, m);
        assert_near(b.found, log2(sibilance_hz[3]), 1.0 / 12.0);
        assert_true(b.middle == (listening ? b.found : log2(6000.0)) && b.due == 0);
        EssesBand at_once = b; /* in the end all is as that memory gives it, the upper end in the new place too */
        esses_band_renew(&at_once, m);
        assert_true(b.upper == at_once.upper && b.faintest == at_once.faintest);
        assert_memory_equal(b.weight, at_once.weight, sizeof b.weight);
        free(m);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(five_make_a_memory),
        cmocka_unit_test(a_fresh_start_keeps_the_old_until_five),
        cmocka_unit_test(levels_are_rounded_and_held),
        cmocka_unit_test(the_two_nearest_become_one),
        cmocka_unit_test(joining_keeps_counts_and_means),
        cmocka_unit_test(the_nearest_is_the_nearest),
        cmocka_unit_test(a_stored_memory_goes_on_as_it_would_have),
        cmocka_unit_test(damaged_fields_are_none),
        cmocka_unit_test(the_upper_end_lies_over_the_middle_by_the_mirrored_range),
        cmocka_unit_test(what_every_fourth_does_is_usual),
        cmocka_unit_test(what_explodes_does_not_raise_it),
        cmocka_unit_test(an_even_voice_has_a_range_of_3_db),
        cmocka_unit_test(the_faint_are_left_out),
        cmocka_unit_test(the_centre_is_that_of_the_highest_group),
        cmocka_unit_test(too_few_have_no_centre),
        cmocka_unit_test(without_a_group_all_count),
        cmocka_unit_test(a_band_takes_in_its_share_of_the_five),
        cmocka_unit_test(a_low_rate_is_out_of_reach),
        cmocka_unit_test(a_new_sibilant_moves_the_band_in_steps),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
