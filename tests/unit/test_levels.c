/* The memory of levels: what it reads from takes whose answer is known beforehand. */
#include "levels.h"

#include "figure.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static Levels *fresh(void)
{
    Levels *l = calloc(1, sizeof *l);
    assert_non_null(l);
    return l;
}

/* A frame whose detector reads `level` at every speed, `crest` dB above its energy. */
static LevelsFrame frame_at(double level, double crest)
{
    LevelsFrame f = {.energy = db_to_power(level - crest)};
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s)
        f.level[s] = f.weighed[s] = level;
    return f;
}

static void add_block(Levels *l, const LevelsFrame *f)
{
    levels_add_block(l, (const LevelsFrame *const[LEVELS_BLOCK]){f, f, f, f, f, f, f, f});
}

static double makeup(const Levels *l, const Curve *curve, double blend)
{
    double gain[LEVELS_GAINS];
    LevelsSums sums = {0};
    levels_gains(curve, gain);
    levels_sum(l, 0, 1.0, gain, &sums);
    return levels_makeup(l, &sums, blend);
}

/* Levels spread evenly over 40 dB: an eighth of them lies above the middle of the loudest quarter. */
static void loud_is_the_middle_of_the_loudest_quarter(void **state)
{
    Levels *l = fresh();
    (void)state;
    for (int i = 0; i < 4000; ++i) {
        const LevelsFrame f = frame_at(-50.0 + 0.01 * i, 6.0);
        levels_add_voice(l, &f);
    }
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s)
        assert_true(fabs(levels_loud(l, s) + 15.0) < 0.3);
    free(l);
}

/* Even takes at every level: the makeup is what the curve takes away. */
static void makeup_gives_back_what_the_curve_takes(void **state)
{
    const Curve curve = {-30.0, curve_slope(2.5), 6.0};
    double worst = 0.0;
    (void)state;
    for (double level = -45.0; level <= 6.0; level += 0.7)
        for (double crest = 1.0; crest < 16.0; crest += 2.3) {
            Levels *l = fresh();
            const LevelsFrame f = frame_at(level, crest);
            for (int i = 0; i < 50; ++i)
                add_block(l, &f);
            const double taken = curve_reduction(&curve, level);
            worst = fmax(worst, fabs(makeup(l, &curve, 1.0) - taken));
            /* Half dry, half compressed by g and raised by m: as loud as before when m g is 1. */
            worst = fmax(worst, fabs(makeup(l, &curve, 0.5) - taken));
            free(l);
        }
    figure_at_most("Compressor", "makeup of an even take at any level and crest: off by", worst, 0.25, "dB",
                   "requirement");
}

/* A loud and a soft half 6 dB apart, both above the gate: BS.1770 takes the mean of their energies. */
static void makeup_weighs_loud_and_soft_by_energy(void **state)
{
    const Curve curve = {-36.0, curve_slope(3.0), 0.0};
    Levels *l = fresh();
    const LevelsFrame loud = frame_at(-12.0, 8.0), soft = frame_at(-18.0, 8.0);
    (void)state;
    for (int i = 0; i < 100; ++i) {
        add_block(l, &loud);
        add_block(l, &soft);
    }
    const double out = 0.5 * (db_to_power(-20.0 - 16.0) + db_to_power(-26.0 - 12.0));
    const double in = 0.5 * (db_to_power(-20.0) + db_to_power(-26.0));
    assert_true(fabs(makeup(l, &curve, 1.0) - power_to_db(in / out)) < 0.2);
    free(l);
}

/* A soft half 15 dB down is gated away before, and counts after a curve that brings it within 10 dB. */
static void makeup_gates_before_and_after(void **state)
{
    const Curve curve = {-50.0, curve_slope(3.0), 0.0};
    Levels *l = fresh();
    const LevelsFrame loud = frame_at(-12.0, 8.0), soft = frame_at(-27.0, 8.0);
    (void)state;
    for (int i = 0; i < 100; ++i) {
        add_block(l, &loud);
        add_block(l, &soft);
    }
    const double loud_out = -20.0 - 2.0 / 3.0 * 38.0, soft_out = -35.0 - 2.0 / 3.0 * 23.0;
    const double out = 0.5 * (db_to_power(loud_out) + db_to_power(soft_out));
    assert_true(fabs(makeup(l, &curve, 1.0) - (-20.0 - power_to_db(out))) < 0.3);
    free(l);
}

/* A voice with soft parts and rests, at any level: every row lies 3 dB from the next, so levels are apart by part of
 * it.
 */
static void makeup_is_the_same_at_any_level(void **state)
{
    double least = INFINITY, most = -INFINITY;
    (void)state;
    for (double level = -38.0; level <= -8.0; level += 0.7) {
        const Curve curve = {level - 10.0, curve_slope(2.5), 6.0};
        Levels *l = fresh();
        for (uint32_t i = 0; i < 300; ++i) {
            const LevelsFrame voice = frame_at(level - i % 10, 10.0), rest = frame_at(level - 26.0 - i % 7, 10.0);
            add_block(l, &voice);
            add_block(l, &rest);
        }
        least = fmin(least, makeup(l, &curve, 1.0));
        most = fmax(most, makeup(l, &curve, 1.0));
        free(l);
    }
    figure_at_most("Compressor", "makeup of made levels with rests 26 dB down, over 30 dB of level: apart by",
                   most - least, 0.1, "dB", "requirement");
}

static void nothing_heard_needs_no_makeup(void **state)
{
    const Curve curve = {-50.0, curve_slope(3.0), 0.0}, straight = {-50.0, 0.0, 0.0};
    Levels *l = fresh();
    (void)state;
    assert_true(makeup(l, &curve, 1.0) == 0.0);
    const LevelsFrame silence = frame_at(-200.0, 0.0), loud = frame_at(-10.0, 9.0);
    add_block(l, &silence);
    assert_true(makeup(l, &curve, 1.0) == 0.0);
    add_block(l, &loud);
    assert_true(makeup(l, &straight, 1.0) == 0.0);
    free(l);
}

/* Two hours and more of one level, then of another: counts stay in their limits, the figures stay right. */
static void a_full_memory_is_halved(void **state)
{
    Levels *l = fresh();
    const LevelsFrame a = frame_at(-20.3, 7.0), b = frame_at(-10.3, 7.0);
    (void)state;
    for (uint32_t i = 0; i < 3 * LEVELS_MOST; ++i) {
        const LevelsFrame *f = i % 2 ? &a : &b;
        levels_add_voice(l, f);
        add_block(l, f);
        if (i % 5000 == 0)
            for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s) {
                for (uint32_t k = 0; k < LEVELS_BINS; ++k)
                    assert_true(l->count[s][k] <= LEVELS_MOST * LEVELS_PARTS);
                for (uint32_t row = 0; row < LEVELS_ROWS; ++row)
                    for (uint32_t k = 0; k < LEVELS_OVERS; ++k)
                        assert_true(l->energy[s][row][k] <= LEVELS_MOST * 256u);
            }
    }
    assert_true(fabs(levels_loud(l, 0) + 10.3) < 0.5);
    const Curve curve = {-40.0, curve_slope(4.0), 0.0};
    const double in = 0.5 * (db_to_power(-20.3) + db_to_power(-10.3));
    const double out = 0.5 * (db_to_power(-20.3 - 0.75 * 19.7) + db_to_power(-10.3 - 0.75 * 29.7));
    assert_true(fabs(makeup(l, &curve, 1.0) - power_to_db(in / out)) < 0.4);
    free(l);
}

/* The same where voice alone is added: an hour and a half of one level. */
static void a_full_count_is_halved(void **state)
{
    Levels *l = fresh();
    const LevelsFrame a = frame_at(-20.3, 7.0), b = frame_at(-10.3, 7.0);
    (void)state;
    for (uint32_t i = 0; i < 3 * LEVELS_MOST; ++i)
        levels_add_voice(l, i % 4 ? &a : &b);
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s)
        for (uint32_t k = 0; k < LEVELS_BINS; ++k)
            assert_true(l->count[s][k] <= LEVELS_MOST * LEVELS_PARTS);
    assert_true(l->frames < 3 * LEVELS_MOST);
    assert_true(fabs(levels_loud(l, 0) + 10.3) < 1.0);
    free(l);
}

static void mix_weighs_the_neighbours(void **state)
{
    (void)state;
    for (double attack = 0.0001; attack <= 0.1; attack *= 1.37)
        for (double release = 0.005; release <= 1.0; release *= 1.41) {
            const LevelsMix m = levels_mix(attack, release);
            double sum = 0.0, up = 0.0, down = 0.0;
            for (int i = 0; i < 4; ++i) {
                assert_true(m.weight[i] >= 0.0 && m.speed[i] < LEVELS_SPEEDS);
                sum += m.weight[i];
                up += m.weight[i] * levels_attack[m.speed[i] / LEVELS_RELEASES];
                down += m.weight[i] * log(levels_release[m.speed[i] % LEVELS_RELEASES]);
            }
            assert_true(fabs(sum - 1.0) < 1e-12);
            assert_true(fabs(up - fmax(attack, levels_attack[0])) < 1e-9);
            assert_true(fabs(down - log(fmax(release, levels_release[0]))) < 1e-9);
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(loud_is_the_middle_of_the_loudest_quarter),
        cmocka_unit_test(makeup_gives_back_what_the_curve_takes),
        cmocka_unit_test(makeup_weighs_loud_and_soft_by_energy),
        cmocka_unit_test(makeup_gates_before_and_after),
        cmocka_unit_test(makeup_is_the_same_at_any_level),
        cmocka_unit_test(nothing_heard_needs_no_makeup),
        cmocka_unit_test(a_full_memory_is_halved),
        cmocka_unit_test(a_full_count_is_halved),
        cmocka_unit_test(mix_weighs_the_neighbours),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
