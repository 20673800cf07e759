/* What Booth makes of falls and of blocks: tables drawn by hand. */
#include "booth_memory.h"

#include "figure.h"
#include "learned_room.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static BoothMemory memory;

static int empty(void **state)
{
    (void)state;
    memset(&memory, 0, sizeof memory);
    return 0;
}

/* n falls, every fourth of the time, the others slower: a quarter is no slower than that. */
static void falls(uint32_t band, double seconds, int n)
{
    for (int i = 0; i < n; ++i)
        booth_memory_decay(&memory, band, seconds * (i % 4 ? 1.3 : 1.0));
}

static void all_falls(uint32_t band, double seconds)
{
    for (int i = 0; i < 40; ++i)
        booth_memory_decay(&memory, band, seconds);
}

static void nothing_is_sure_at_first(void **state)
{
    (void)state;
    BoothRoom r = booth_memory_room(&memory);
    assert_true(r.sure == 0.0 && r.middle == 0.0 && r.late == 0.0 && r.decay[2] == 0.0);
    assert_int_equal(booth_memory_falls(&memory), 0);
    assert_true(booth_memory_makeup(&memory, 0.25) == 0.0);
    falls(1, 0.8, 2); /* too few */
    falls(2, 0.8, 2);
    for (uint32_t i = 1; i < 3; ++i)
        booth_memory_late(&memory, i, 0.2);
    assert_true(booth_memory_decay_of(&memory, 1) == 0.0 && booth_memory_room(&memory).sure == 0.0);
    falls(1, 0.8, 1);
    assert_true(booth_memory_decay_of(&memory, 1) > 0.0);
    assert_true(booth_memory_room(&memory).sure == 0.0); /* one band is not enough */
    falls(2, 0.8, 1);
    assert_true(booth_memory_room(&memory).sure == 0.0); /* nor are two falls that tell what is late */
    booth_memory_late(&memory, 1, 0.2);
    assert_true(booth_memory_room(&memory).sure == 1.0);
    assert_int_equal(booth_memory_falls(&memory), 3);
}

static void the_quickest_quarter_is_the_room(void **state)
{
    (void)state;
    for (double seconds = 0.2; seconds < 3.0; seconds *= 1.4) {
        empty(state);
        falls(0, seconds, 40);
        falls(1, seconds, 40);
        const double found = booth_memory_decay_of(&memory, 0);
        assert_true(found > 0.95 * seconds && found < 1.1 * seconds);
        const BoothRoom r = booth_memory_room(&memory);
        assert_true(fabs(r.middle / found - 1.0) < 1e-9);
        assert_true(r.decay[0] > 1.2 * seconds && r.decay[0] < 1.4 * seconds); /* that of the middle falls */
    }
}

static void a_dry_take_is_no_room(void **state)
{
    (void)state;
    static const struct {
        double seconds, sure;
    } expected[] = {{0.2, 0.0}, {0.26, 0.0}, {0.31, 0.5}, {0.37, 1.0}};
    for (int i = 0; i < 4; ++i) {
        empty(state);
        for (uint32_t b = 0; b < BOOTH_BANDS; ++b) {
            all_falls(b, expected[i].seconds);
            booth_memory_late(&memory, b, 0.3);
        }
        assert_true(fabs(booth_memory_room(&memory).sure - expected[i].sure) < 0.4);
        if (expected[i].sure == 0.0 || expected[i].sure == 1.0)
            assert_true(booth_memory_room(&memory).sure == expected[i].sure);
    }
    empty(state);
    falls(0, 1.0, 40);
    falls(1, 1.0, 40); /* a room, but no fall told how much */
    assert_true(booth_memory_room(&memory).sure == 0.0);
}

/* A band that is not known has its neighbour's time; the top does not count in the middle. */
static void bands_stand_in_for_each_other(void **state)
{
    (void)state;
    all_falls(1, 1.0);
    all_falls(3, 0.5);
    all_falls(4, 0.1);
    booth_memory_late(&memory, 1, 0.1);
    const BoothRoom r = booth_memory_room(&memory);
    assert_true(r.decay[0] == r.decay[1] && r.decay[2] == r.decay[1]);
    assert_true(fabs(r.decay[1] - 1.0) < 0.1 && fabs(r.decay[3] - 0.5) < 0.05 && fabs(r.decay[4] - 0.1) < 0.02);
    const double middle = sqrt(booth_memory_decay_of(&memory, 1) * booth_memory_decay_of(&memory, 3));
    assert_true(fabs(r.middle - middle) < 1e-9 && fabs(middle - sqrt(r.decay[1] * r.decay[3])) < 0.05);
    empty(state);
    falls(3, 0.6, 40);
    falls(4, 0.4, 40);
    const BoothRoom high = booth_memory_room(&memory);
    assert_true(high.decay[0] == high.decay[3] && high.middle == 0.0);
    assert_true(booth_band_low(0) == 150.0 && booth_band_low(1) == 500.0 && booth_band_low(4) == 4000.0);
    assert_true(isinf(booth_band_low(BOOTH_BANDS)));
}

/* dB, with this many falls that tell -12 to -8 in two bands, and what the top tells. */
static double late_in_a_room_of(double seconds, uint32_t told)
{
    memset(&memory, 0, sizeof memory);
    all_falls(0, seconds);
    all_falls(2, seconds);
    for (uint32_t i = 0; i < told; ++i)
        booth_memory_late(&memory, i % 2 ? 1 : 3, db_to_power(-12.0 + 4.0 * (i + 0.5) / told));
    for (uint32_t i = 0; i < 100; ++i)
        booth_memory_late(&memory, 4, db_to_power(-30.0));
    return power_to_db(booth_memory_room(&memory).late);
}

/* What rooms usually add: the direct sound 3 dB over it, and of it what is left after 50 ms. */
static double usual(double seconds)
{
    const double left = pow(10.0, -6.0 * 0.05 / seconds);
    return power_to_db(left / (db_to_power(3.0) + 1.0 - left));
}

/* Four tenths of the falls below the top lie under -10.4 dB; the fewer they are, the nearer to what is usual. */
static void late_sound_is_one_figure(void **state)
{
    (void)state;
    static const double room[] = {0.34, 0.4, 0.8};
    static const uint32_t told[] = {5, 15, 400};
    double worst = 0.0;
    for (int i = 0; i < 3; ++i)
        for (int k = 0; k < 3; ++k) {
            const double found = late_in_a_room_of(room[i], told[k]);
            const double middle = booth_memory_room(&memory).middle, weight = told[k] / (told[k] + 15.0);
            const double more = -1.0 + 3.0 * fmin(fmax((middle - 0.35) / 0.1, 0.0), 1.0); /* in longer rooms */
            worst = fmax(worst, fabs(found - more - usual(middle) - weight * (-10.4 - usual(middle))));
        }
    figure_at_most("Booth", "late sound of the falls of two bands as one figure: off by", worst, 0.2, "dB",
                   "ours: steps of half a decibel, and of decay times");
    assert_true(late_in_a_room_of(0.8, 2) <= UNITS_DB_FLOOR);
    for (int far = -1; far < 2; far += 2) { /* 7 or 14 dB from what is usual are as 6 */
        double found[2];
        for (int i = 0; i < 2; ++i) {
            late_in_a_room_of(0.8, 0);
            const double usually = usual(booth_memory_room(&memory).middle);
            for (int k = 0; k < 15; ++k)
                booth_memory_late(&memory, 1, db_to_power(usually + far * (i ? 14.0 : 7.0)));
            found[i] = power_to_db(booth_memory_room(&memory).late) - 2.0 - usually;
        }
        assert_true(fabs(found[0] - far * 3.0) < 1e-3 && fabs(found[1] - found[0]) < 1e-9);
    }
}

static void columns(double energy[BOOTH_GAINS], double whole, double at_half)
{
    memset(energy, 0, BOOTH_GAINS * sizeof *energy);
    energy[BOOTH_GAINS - 1] = whole;
    energy[8] = at_half; /* gains of 0.5 to 0.5625 */
}

static void loudness_is_kept(void **state)
{
    (void)state;
    double energy[BOOTH_GAINS];
    columns(energy, 0.01, 0.01);
    for (int i = 0; i < 19; ++i)
        assert_true(booth_memory_block(&memory, energy));
    assert_true(booth_memory_makeup(&memory, 0.25) == 0.0); /* too few blocks */
    assert_true(booth_memory_block(&memory, energy));
    const double left = 0.5 * (1.0 + 0.53125 * 0.53125);
    figure_within("Booth", "half of the energy turned down by 5.5 dB: makeup", booth_memory_makeup(&memory, 0.25),
                  -power_to_db(left), 0.02, "dB", "BS.1770: energies add up; wide: steps of the gate");
    assert_true(booth_memory_makeup(&memory, 1.0) == 0.0);
    const double held = 0.5 * (1.0 + 0.8 * 0.8);
    assert_true(fabs(booth_memory_makeup(&memory, 0.8) + power_to_db(held)) < 0.02);
    columns(energy, 1e-10, 0.0);
    assert_false(booth_memory_block(&memory, energy)); /* silence */
}

/* Hours of it: everything is halved, and the gain stays. */
static void a_long_take_keeps_its_figures(void **state)
{
    (void)state;
    double energy[BOOTH_GAINS];
    columns(energy, 0.01, 0.01);
    for (int i = 0; i < 100; ++i)
        booth_memory_block(&memory, energy);
    const double before = booth_memory_makeup(&memory, 0.25);
    for (int i = 0; i < 200000; ++i)
        booth_memory_block(&memory, energy);
    assert_true(fabs(booth_memory_makeup(&memory, 0.25) - before) < 0.01);
    uint32_t most = 0;
    for (uint32_t i = 0; i < EVEN_FINE; ++i)
        most = memory.blocks[i] > most ? memory.blocks[i] : most;
    assert_true(most > 5000 && most < 65536);
    for (int i = 0; i < 70000; ++i)
        booth_memory_decay(&memory, 0, 1.0);
    assert_true(booth_memory_falls(&memory) > 30000 && booth_memory_falls(&memory) < 65536);
}

static void it_comes_back_to_the_bit(void **state)
{
    (void)state;
    double energy[BOOTH_GAINS];
    columns(energy, 0.3, 0.02);
    for (uint32_t i = 0; i < 30; ++i) {
        booth_memory_block(&memory, energy);
        booth_memory_late(&memory, i % 5, 0.01 * (i + 1));
        booth_memory_decay(&memory, i % 5, 0.1 * (i + 1));
    }
    static BoothMemory again;
    Learned l = LEARNED_WITH_ROOM;
    learned_get(&booth_schema, &memory, &l);
    learned_check(&booth_schema, &l);
    learned_put(&booth_schema, &again, &l);
    assert_memory_equal(&memory, &again, sizeof memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(nothing_is_sure_at_first, empty),
        cmocka_unit_test_setup(the_quickest_quarter_is_the_room, empty),
        cmocka_unit_test_setup(a_dry_take_is_no_room, empty),
        cmocka_unit_test_setup(bands_stand_in_for_each_other, empty),
        cmocka_unit_test_setup(late_sound_is_one_figure, empty),
        cmocka_unit_test_setup(loudness_is_kept, empty),
        cmocka_unit_test_setup(a_long_take_keeps_its_figures, empty),
        cmocka_unit_test_setup(it_comes_back_to_the_bit, empty),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
