/* Hum in a window of a rest: its level, also off the nominal frequency, and what is no hum. */
#include "hum.h"

#include "figure.h"
#include "seeds.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#define RATE 4000.0 /* of the slow signal */
#define LATE 0.4    /* s */

static Hum hum;

static void start(void)
{
    Decimator slowed;
    decimate_init(&slowed, 1, 1e6, RATE); /* so high that it takes nothing away */
    hum_done(&hum);
    assert_true(hum_init(&hum, RATE, &slowed, LATE));
}

static double rumble; /* amplitude of a tone at 30 Hz that is played too */

/* Equal harmonics of hz, each of this amplitude, beside noise. */
static void play(double hz, double amplitude, double noise, uint32_t n)
{
    uint32_t seed = seeded(5);
    for (uint32_t i = 0; i < n; ++i) {
        seed = seed * 1664525u + 1013904223u;
        double x = noise * ((double)seed / 2147483648.0 - 1.0);
        x += rumble * sin(2.0 * DSP_PI * 30.0 * i / RATE);
        for (int k = 1; k <= HUM_HARMONICS; ++k)
            x += amplitude * sin(2.0 * DSP_PI * k * hz * i / RATE + k);
        hum_push(&hum, x);
    }
}

static void look(double db[HUM_FAMILIES])
{
    hum_look(&hum, hum_heard(&hum));
    for (uint32_t calls = 0; !hum_found(&hum, db); ++calls) {
        assert_true(calls < 10000);
        hum_work(&hum);
    }
}

/* Public supply holds 1 %: at the tenth harmonic that is more than the width of a bin. */
static void level_holds_off_the_nominal_frequency(void **state)
{
    (void)state;
    static const double mains[HUM_FAMILIES] = {50.0, 60.0};
    const double amplitude = 0.01, truth = power_to_db(HUM_HARMONICS * 0.5 * amplitude * amplitude);
    double worst = 0.0, db[HUM_FAMILIES];
    for (int f = 0; f < HUM_FAMILIES; ++f)
        for (double off = -0.01; off <= 0.0101; off += 0.002) {
            start();
            play(mains[f] * (1.0 + off), amplitude, 1e-5, 4000);
            look(db);
            worst = fmax(worst, fabs(db[f] - truth));
        }
    figure_at_most("Check", "hum up to 1 % off 50 and 60 Hz, ten equal harmonics: level off by", worst, 0.5, "dB",
                   "our own limit");
}

static void noise_and_other_notes_are_no_hum(void **state)
{
    (void)state;
    double db[HUM_FAMILIES];
    start();
    play(50.0, 0.0, 0.01, 4000);
    look(db);
    for (int f = 0; f < HUM_FAMILIES; ++f)
        assert_true(db[f] == UNITS_DB_FLOOR);
    start();
    play(75.0, 0.01, 1e-5, 4000); /* half of it lies half-way between the harmonics of 50 Hz */
    look(db);
    assert_true(db[0] == UNITS_DB_FLOOR);
}

/* What rumbles lies under the lowest harmonic, where no noise of the others is looked for. */
static void a_rumble_hides_no_hum(void **state)
{
    (void)state;
    double db[HUM_FAMILIES];
    const double amplitude = 0.001, truth = power_to_db(HUM_HARMONICS * 0.5 * amplitude * amplitude);
    start();
    rumble = 0.02;
    play(60.0, amplitude, 1e-5, 4000);
    look(db);
    rumble = 0.0;
    assert_true(fabs(db[1] - truth) < 0.5);
}

/* A harmonic alone, dying away by db a second, or at this frequency. true: the window tells something. */
static bool rings(double hz, double db, double level[HUM_FAMILIES])
{
    for (uint32_t i = 0; i < 4000; ++i)
        hum_push(&hum, 0.01 * db_to_gain(-db * i / RATE) * sin(2.0 * DSP_PI * hz * i / RATE));
    hum_look(&hum, hum_heard(&hum));
    for (uint32_t calls = 0; calls < 10000; ++calls) {
        hum_work(&hum);
        if (hum_found(&hum, level))
            return true;
    }
    return false;
}

/* From half to half: 4 dB, and 1.2 % and 0.6 Hz off. The window's halves lie 0.125 s apart. */
static void what_rings_is_no_hum(void **state)
{
    (void)state;
    double db[HUM_FAMILIES];
    start();
    assert_true(rings(100.0, 0.0, db) && db[0] > -50.0);
    assert_true(rings(100.0, 3.0 / 0.125, db) && db[0] > -200.0);
    assert_false(rings(100.0, 5.0 / 0.125, db));
    assert_true(rings(101.5, 0.0, db) && db[0] > -50.0);
    assert_false(rings(102.2, 0.0, db));
    assert_false(rings(360.0, 0.0, db));
    play(60.0, 0.01, 1e-5, 4000);
    look(db);
    assert_true(db[1] > -50.0);
}

/* Does the window tell a hum, of a tone and another one, which has a third harmonic too, in noise? */
static bool tells(double hz, double amplitude, double second, double another)
{
    double db[HUM_FAMILIES];
    uint32_t seed = seeded(6);
    for (uint32_t i = 0; i < 4000; ++i) {
        const double turn = 2.0 * DSP_PI * i / RATE;
        seed = seed * 1664525u + 1013904223u;
        hum_push(&hum, 1e-5 * ((double)seed / 2147483648.0 - 1.0) + amplitude * sin(hz * turn) +
                           another * sin(second * turn + 1.0) + another / 3.0 * sin(3.0 * second * turn + 2.0));
    }
    hum_look(&hum, hum_heard(&hum));
    for (uint32_t calls = 0; calls < 10000; ++calls) {
        hum_work(&hum);
        if (hum_found(&hum, db))
            return fmax(db[0], db[1]) > UNITS_DB_FLOOR;
    }
    return false;
}

/* Of a guitar, steady, from its lowest E up for two octaves and more. */
static void notes_are_no_hum(void **state)
{
    (void)state;
    start();
    for (int semitone = 0; semitone < 32; ++semitone) {
        const double hz = 82.407 * pow(2.0, semitone / 12.0);
        if (tells(hz, 0.01, 2.0 * hz, 0.005))
            fail_msg("%.2f Hz is told as hum", hz);
    }
    assert_false(tells(155.9, 0.01, 155.9, 0.0)); /* the phase says 147.9 */
    assert_false(tells(205.6, 0.01, 205.6, 0.0)); /* 197.6 */
}

/* A hundredth of its power lies in one of its four lowest harmonics. */
static void a_hum_is_low(void **state)
{
    (void)state;
    start();
    assert_true(tells(200.0, 0.01, 100.0, 0.0));
    assert_false(tells(250.0, 0.01, 100.0, 0.0));
    assert_true(tells(300.0, 0.01, 100.0, 0.0011));
    assert_false(tells(300.0, 0.01, 100.0, 0.0009));
}

/* Busy, not yet a window's length of sound, or a window that is no longer there: nothing is begun. */
static void looks_only_where_it_can(void **state)
{
    (void)state;
    double db[HUM_FAMILIES];
    start();
    play(50.0, 0.01, 1e-5, 100);
    hum_look(&hum, 100);
    assert_false(hum.busy);
    play(50.0, 0.01, 1e-5, 5000);
    hum_look(&hum, hum_heard(&hum) - (uint64_t)(LATE * RATE) - 1);
    assert_false(hum.busy);
    hum_look(&hum, hum_heard(&hum) - (uint64_t)(LATE * RATE));
    assert_true(hum.busy);
    for (int i = 0; i < 8; ++i)
        hum_work(&hum);
    const uint32_t done = hum.done;
    hum_look(&hum, hum_heard(&hum));
    assert_int_equal(hum.done, done);
    assert_false(hum_found(&hum, db));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(level_holds_off_the_nominal_frequency),
        cmocka_unit_test(noise_and_other_notes_are_no_hum),
        cmocka_unit_test(a_rumble_hides_no_hum),
        cmocka_unit_test(what_rings_is_no_hum),
        cmocka_unit_test(notes_are_no_hum),
        cmocka_unit_test(a_hum_is_low),
        cmocka_unit_test(looks_only_where_it_can),
    };
    const int broken = cmocka_run_group_tests(tests, NULL, NULL);
    hum_done(&hum);
    return broken;
}
