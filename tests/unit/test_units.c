/* Unit conversion, against values that follow from the definitions. */
#include <math.h>
#include <setjmp.h>
#include <stdbool.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "units.h"

static bool near(double a, double b, double within)
{
    return fabs(a - b) <= within;
}

static void decibels_are_twenty_log_of_amplitude(void **state)
{
    (void)state;
    static const struct {
        double db, gain;
    } row[] = {
        {0, 1}, {20, 10}, {-20, 0.1}, {-60, 0.001}, {6.020599913279624, 2}, {-3.0102999566398121, 0.70710678118654752}};
    for (size_t i = 0; i < sizeof row / sizeof *row; ++i) {
        assert_true(near(db_to_gain(row[i].db), row[i].gain, 1e-12 * row[i].gain));
        assert_true(near(gain_to_db(row[i].gain), row[i].db, 1e-12));
        assert_true(near(db_to_power(row[i].db), row[i].gain * row[i].gain, 1e-12 * row[i].gain * row[i].gain));
        assert_true(near(power_to_db(row[i].gain * row[i].gain), row[i].db, 1e-12));
    }
}

static void there_and_back_is_the_same(void **state)
{
    (void)state;
    for (double db = -180; db <= 60; db += 0.7) {
        assert_true(near(gain_to_db(db_to_gain(db)), db, 1e-10));
        assert_true(near(power_to_db(db_to_power(db)), db, 1e-10));
    }
    for (double hz = 20; hz < 20000; hz *= 1.1)
        assert_true(near(note_to_hz(hz_to_note(hz)), hz, 1e-10 * hz));
}

static void silence_reads_the_floor(void **state)
{
    (void)state;
    assert_true(gain_to_db(0) == UNITS_DB_FLOOR && gain_to_db(1e-12) == UNITS_DB_FLOOR);
    assert_true(power_to_db(0) == UNITS_DB_FLOOR && power_to_db(1e-30) == UNITS_DB_FLOOR);
    assert_true(gain_to_db(-1) == UNITS_DB_FLOOR && gain_to_db(NAN) == UNITS_DB_FLOOR);
    assert_true(near(gain_to_db(2e-10), -193.979400086720376, 1e-9));
}

/* f = 440 x 2^((m-69)/12); the frequencies are those of the usual table of equal temperament. */
static void notes_are_of_equal_temperament(void **state)
{
    (void)state;
    static const struct {
        double note, hz;
    } row[] = {{69, 440}, {57, 220}, {40, 82.41}, {48, 130.81}, {53, 174.61}, {60, 261.63}, {84, 1046.50}};
    for (size_t i = 0; i < sizeof row / sizeof *row; ++i) {
        assert_true(near(note_to_hz(row[i].note), row[i].hz, 0.005));
        assert_true(near(hz_to_note(row[i].hz), row[i].note, 0.002));
    }
}

/* alpha = exp(-1/(tau fs)) at 48 kHz: Giannoulis, Massberg, Reiss, JAES 60(6), 2012; values computed with scipy. */
static void one_poles_are_the_published_ones(void **state)
{
    (void)state;
    assert_true(near(one_pole(0.01, 48000), 0.9979188353, 5e-11));
    assert_true(near(one_pole(0.1, 48000), 0.9997916884, 5e-11));
    assert_true(one_pole(0, 48000) == 0.0 && one_pole(-1, 48000) == 0.0);
}

/* tau is the time to 1 - 1/e of a step. */
static void tau_is_the_time_to_63_per_cent(void **state)
{
    (void)state;
    const double keep = one_pole(0.01, 48000);
    double y = 0.0;
    for (int i = 0; i < 480; ++i)
        y = keep * y + (1.0 - keep);
    assert_true(near(y, 1.0 - exp(-1.0), 1e-9));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(decibels_are_twenty_log_of_amplitude),
        cmocka_unit_test(there_and_back_is_the_same),
        cmocka_unit_test(silence_reads_the_floor),
        cmocka_unit_test(notes_are_of_equal_temperament),
        cmocka_unit_test(one_poles_are_the_published_ones),
        cmocka_unit_test(tau_is_the_time_to_63_per_cent),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
