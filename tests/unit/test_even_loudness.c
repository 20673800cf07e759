/* The gain that keeps the loudness, from rows of blocks and what a processor does to them. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "even_loudness.h"
#include "figure.h"
#include "units.h"

typedef struct {
    uint32_t blocks[EVEN_FINE];
    EvenSums sums;
} Heard;

/* Blocks of one level in dB, in the middle of its row, that the processor turns by `gain` dB. */
static void hear(Heard *h, double level, uint32_t blocks, double gain)
{
    const uint32_t fine = even_fine(level), row = fine / EVEN_STEP;
    const double energy = blocks * db_to_power(level), factor = db_to_gain(gain);
    h->blocks[fine] += blocks;
    h->sums.in[row] += energy;
    h->sums.cross[row] += energy * factor;
    h->sums.out[row] += energy * factor * factor;
}

static void nothing_heard_is_0(void **state)
{
    (void)state;
    const Heard none = {0};
    assert_true(even_gain(none.blocks, &none.sums, 1.0) == 0.0);
}

/* To the bit: a processor that does nothing stays out of the sound. */
static void nothing_done_is_0(void **state)
{
    (void)state;
    Heard h = {0};
    hear(&h, -18.3, 17, 0.0);
    hear(&h, -31.1, 7, 0.0);
    assert_true(even_gain(h.blocks, &h.sums, 1.0) == 0.0);
}

static void it_takes_back_what_was_done_to_all(void **state)
{
    (void)state;
    for (int db = -9; db <= 9; db += 3) {
        Heard h = {0};
        hear(&h, -18.0, 40, db);
        hear(&h, -24.0, 40, db);
        figure_within("Even loudness", "gain after one gain for all", even_gain(h.blocks, &h.sums, 1.0) + db, 0, 1e-9,
                      "dB", "arithmetic");
    }
}

/* ITU-R BS.1770: rests lie under the gate, and what is done to them does not count. */
static void what_lies_under_the_gate_does_not_count(void **state)
{
    (void)state;
    Heard h = {0};
    hear(&h, -18.0, 50, -2.0);
    hear(&h, -45.0, 50, 8.0);
    figure_within("Even loudness", "gain where rests are raised", even_gain(h.blocks, &h.sums, 1.0), 2, 1e-9, "dB",
                  "ITU-R BS.1770: relative gate");
}

/* What comes out has a gate of its own: -12 dB under, and raised past it. The mean of the loud blocks then falls, and
 * the gain makes up for that. */
static void what_comes_out_is_gated_by_itself(void **state)
{
    (void)state;
    Heard h = {0};
    hear(&h, -18.0, 50, 0.0);
    hear(&h, -33.0, 50, 9.0);
    const double mean = power_to_db(0.5 * (db_to_power(-18.0) + db_to_power(-24.0)));
    figure_within("Even loudness", "gain where blocks rise past the gate", even_gain(h.blocks, &h.sums, 1.0),
                  -18.0 - mean, 1e-9, "dB", "ITU-R BS.1770: relative gate");
}

static void a_blend_is_made_up_on_its_share(void **state)
{
    (void)state;
    Heard h = {0};
    hear(&h, -18.0, 50, -6.0);
    const double gain = db_to_gain(even_gain(h.blocks, &h.sums, 0.5)) * db_to_gain(-6.0);
    figure_within("Even loudness", "half blended: level of the sum", gain_to_db(0.5 + 0.5 * gain), 0, 1e-9, "dB",
                  "arithmetic");
}

static void it_rises_slowly_and_falls_at_once(void **state)
{
    (void)state;
    assert_true(even_move(1.0, 5.0, 0.25) == 1.25);
    assert_true(even_move(4.9, 5.0, 0.25) == 5.0);
    assert_true(even_move(5.0, -2.0, 0.25) == -2.0);
}

static void levels_outside_count_as_the_nearer_end(void **state)
{
    (void)state;
    assert_int_equal(even_fine(-90.0), 0);
    assert_int_equal(even_fine(30.0), EVEN_FINE - 1);
    for (uint32_t row = 0; row < EVEN_ROWS; ++row)
        assert_int_equal(even_fine(even_row_level(row)) / EVEN_STEP, row);
}

static void energy_is_shared_between_two_columns(void **state)
{
    (void)state;
    uint32_t column[4] = {0};
    assert_false(even_share(column, 4, 1.3, 10.0));
    assert_true(column[0] == 0 && column[1] == 7 && column[2] == 3 && column[3] == 0);
    assert_false(even_share(column, 4, -5.0, 2.0) || even_share(column, 4, 9.0, 4.4));
    assert_true(column[0] == 2 && column[1] == 7 && column[2] == 3 && column[3] == 4);
    assert_false(even_share(column, 4, 3.0, EVEN_MOST_UNITS / 2.0 - 4.0));
    assert_true(even_share(column, 4, 3.0, 1.0));
    even_halve(column, 3);
    assert_true(column[0] == 1 && column[1] == 4 && column[2] == 2 && column[3] == EVEN_MOST_UNITS / 2 + 1);
}

static void the_power_of_a_row_is_that_of_its_level(void **state)
{
    (void)state;
    for (uint32_t row = 0; row < EVEN_ROWS; ++row)
        assert_true(fabs(even_row_power(row) / db_to_power(even_row_level(row)) - 1.0) < 1e-14);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_power_of_a_row_is_that_of_its_level),
        cmocka_unit_test(energy_is_shared_between_two_columns),
        cmocka_unit_test(nothing_heard_is_0),
        cmocka_unit_test(nothing_done_is_0),
        cmocka_unit_test(it_takes_back_what_was_done_to_all),
        cmocka_unit_test(what_lies_under_the_gate_does_not_count),
        cmocka_unit_test(what_comes_out_is_gated_by_itself),
        cmocka_unit_test(a_blend_is_made_up_on_its_share),
        cmocka_unit_test(it_rises_slowly_and_falls_at_once),
        cmocka_unit_test(levels_outside_count_as_the_nearer_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
