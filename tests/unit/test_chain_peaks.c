/* By how much Tone moves the peaks of a voice. */
#include "chain_peaks.h"
#include "figure.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define RATE 48000.0

static const ToneCurve plain = {.order = 3.0, .low_cut = 60.0};
static const TallyScale scale = {.low = -90.0, .step = 0.5, .bins = 200};

static uint32_t counted(const ChainPeaks *p)
{
    return tally_total(&p->read[0], &scale);
}

/* Seconds of a sine that comes out `db` higher. */
static void hear(ChainPeaks *p, double seconds, double db, bool counts)
{
    for (uint32_t cell = 0; cell < seconds * RATE / DSP_CELL; ++cell) {
        float x[DSP_CELL];
        for (uint32_t i = 0; i < DSP_CELL; ++i)
            x[i] = 0.5f * (float)sin(2.0 * DSP_PI * 1000.0 * (cell * DSP_CELL + i) / RATE);
        peaks_process(p, (const float *const[]){x}, DSP_CELL);
        peaks_tick(p, 20.0 * log10(0.5) + db, 3.0, counts);
    }
}

static void start(ChainPeaks *p, double power[SPECTRUM_BANDS])
{
    for (uint32_t b = 0; b < SPECTRUM_BANDS; ++b)
        power[b] = 1.0;
    assert_true(peaks_init(p, RATE, 1));
    peaks_set(p, &plain, power, 80.0);
}

static void finds_what_is_lost(void **state)
{
    (void)state;
    ChainPeaks p;
    double power[SPECTRUM_BANDS];
    start(&p, power);
    hear(&p, 4.0, -1.5, true);
    /* Two thirds of it: what was known before, nothing, still weighs two seconds. */
    figure_within("Chain", "peaks 1.5 dB lower for 4 s: found", peaks_raised(&p), -1.0, 0.03, "dB", "ours");
    hear(&p, 4.1, -1.5, true);
    figure_within("Chain", "peaks 1.5 dB lower for 8 s: found", peaks_raised(&p), -1.5, 0.03, "dB", "ours");
    const double settled = peaks_raised(&p);
    hear(&p, 8.0, 3.0, true);
    assert_true(peaks_raised(&p) == settled); /* the same curve: it stays */
    peaks_done(&p);
}

static void another_curve_is_looked_at_anew(void **state)
{
    (void)state;
    ChainPeaks p;
    double power[SPECTRUM_BANDS];
    start(&p, power);
    hear(&p, 9.0, 0.0, true);
    const double before = peaks_raised(&p);
    assert_true(fabs(before) < 0.1);
    power[12] = 0.8; /* 1 dB */
    peaks_set(&p, &plain, power, 80.0);
    hear(&p, 9.0, -3.0, true);
    assert_true(peaks_raised(&p) == before);
    power[12] = 0.5; /* 3 dB */
    peaks_set(&p, &plain, power, 80.0);
    assert_true(peaks_raised(&p) == before);
    hear(&p, 9.0, -3.0, true);
    assert_true(peaks_raised(&p) < -1.8);
    peaks_done(&p);
}

/* As a new one does: also where a cell was under way. */
static void after_a_reset_it_waits_for_the_curve(void **state)
{
    (void)state;
    ChainPeaks p;
    double power[SPECTRUM_BANDS];
    const float x[DSP_CELL] = {0.5f};
    start(&p, power);
    hear(&p, 1.0, 0.0, true);
    assert_true(peaks_seek(&p) && p.cells > 0);
    peaks_process(&p, (const float *const[]){x}, DSP_CELL);
    peaks_reset(&p);
    assert_false(peaks_seek(&p));
    peaks_tick(&p, 0.0, 0.0, true);
    assert_int_equal(p.cells, 0);
    peaks_set(&p, &plain, power, 80.0);
    assert_true(peaks_seek(&p));
    peaks_done(&p);
}

static void a_rest_tells_nothing(void **state)
{
    (void)state;
    ChainPeaks p;
    double power[SPECTRUM_BANDS];
    start(&p, power);
    hear(&p, 4.0, -6.0, false);
    assert_true(peaks_raised(&p) == 0.0);
    peaks_known(&p, -0.5);
    peaks_reset(&p);
    assert_true(peaks_raised(&p) == -0.5);
    peaks_done(&p);
}

/* Once settled nothing is sought until the curve changes; and what was not heard leaves no trace: the first cells after
 * it, in which the filters' states are not yet the sound's, do not count. */
static void rests_when_it_has_found(void **state)
{
    (void)state;
    ChainPeaks p;
    double power[SPECTRUM_BANDS];
    start(&p, power);
    assert_true(peaks_seek(&p));
    hear(&p, 7.9, -1.5, true);
    assert_true(peaks_seek(&p));
    hear(&p, 0.3, -1.5, true);
    assert_false(peaks_seek(&p));
    for (int cell = 0; cell < 10; ++cell)
        peaks_tick(&p, 0.0, 0.0, true);
    power[12] = 0.5;
    peaks_set(&p, &plain, power, 80.0);
    assert_true(peaks_seek(&p));
    const double before = peaks_raised(&p);
    hear(&p, 0.045, 40.0, true);
    hear(&p, 0.3, -200.0, false);
    assert_true(peaks_raised(&p) == before);
    assert_true(counted(&p) == 0);
    peaks_done(&p);
}

/* ---- What Tone's first curve makes of a sine ---- */

/* dB of a Butterworth high-pass, by its definition. */
static double butterworth(double order, double cut, double hz)
{
    return -10.0 * log10(1.0 + pow(cut / hz, 2.0 * order));
}

/* dB that is read of a sine of -6 dB in these channels. */
static double reading(ChainPeaks *p, double hz, bool left, bool right)
{
    peaks_known(p, 0.0);
    for (uint32_t cell = 0; cell < 0.4 * RATE / DSP_CELL; ++cell) {
        float x[2][DSP_CELL];
        for (uint32_t i = 0; i < DSP_CELL; ++i) {
            const float y = 0.5f * (float)sin(2.0 * DSP_PI * hz * (cell * DSP_CELL + i) / RATE);
            x[0][i] = left ? y : 0.f;
            x[1][i] = right ? y : 0.f;
        }
        peaks_process(p, (const float *const[]){x[0], x[1]}, DSP_CELL);
        peaks_tick(p, 0.0, 3.0, true);
    }
    return tally_below(&p->read[0], &scale, 0.5 * counted(p)) + 3.0 - 20.0 * log10(0.5);
}

/* Each part of the curve counts as soon as it alone has moved. A shelf has half its gain in its middle. */
static void the_first_curve_is_heard(void **state)
{
    (void)state;
    static const struct {
        ToneCurve curve;
        double cut, hz, air;
    } steps[] = {
        {{.order = 3.0, .low_cut = 60.0}, 80.0, 70.0, 0.0},
        {{.order = 3.0, .low_cut = 90.0}, 80.0, 70.0, 0.0},
        {{.order = 2.0, .low_cut = 90.0}, 80.0, 70.0, 0.0},
        {{.order = 2.0, .low_cut = 90.0}, 130.0, 70.0, 0.0},
        {{.order = 2.0, .low_cut = 90.0, .air_hz = 6000.0, .air_db = 8.0}, 130.0, 6000.0, 4.0},
        {{.order = 2.0, .low_cut = 90.0, .air_hz = 3000.0, .air_db = 8.0}, 130.0, 3000.0, 4.0},
        {{.order = 2.0, .low_cut = 90.0, .air_hz = 3000.0, .air_db = -4.0}, 130.0, 3000.0, -2.0},
        {{.order = 8.0, .low_cut = 90.0, .air_hz = 3000.0, .air_db = -4.0}, 130.0, 100.0, 0.0},
        {{.order = 0.0, .low_cut = 90.0, .air_hz = 3000.0}, 130.0, 70.0, 0.0},
    };
    ChainPeaks one, two;
    double power[SPECTRUM_BANDS];
    start(&one, power);
    assert_true(peaks_init(&two, RATE, 2));
    for (size_t i = 0; i < sizeof steps / sizeof *steps; ++i) {
        const double want =
            butterworth(steps[i].curve.order, steps[i].curve.low_cut, steps[i].hz) * (steps[i].curve.order > 0.0) +
            butterworth(2.0, steps[i].cut, steps[i].hz) + steps[i].air;
        peaks_set(&one, &steps[i].curve, power, steps[i].cut);
        peaks_set(&two, &steps[i].curve, power, steps[i].cut);
        assert_true(fabs(reading(&one, steps[i].hz, true, false) - want) < 0.5);
        assert_true(fabs(reading(&two, steps[i].hz, true, false) - want) < 0.5);
        assert_true(fabs(reading(&two, steps[i].hz, false, true) - want) < 0.5);
    }
    peaks_done(&one);
    peaks_done(&two);
}

/* Plays cells of one value, out of which 6 dB more than half of full scale come. */
static void play(ChainPeaks *p, uint32_t cells, float value, bool counts)
{
    float x[DSP_CELL];
    for (uint32_t i = 0; i < DSP_CELL; ++i)
        x[i] = i % 2 ? value : -value;
    for (; cells; --cells) {
        peaks_process(p, (const float *const[]){x, x}, DSP_CELL);
        peaks_tick(p, 6.0 + 20.0 * log10(0.5), 0.0, counts);
    }
}

/* A peak holds for 12 ms after its cell, which is 18 more. The first 50 ms after a rest, 75 cells, do not count. */
static void peaks_hold_and_beginnings_do_not_count(void **state)
{
    (void)state;
    ChainPeaks p;
    double power[SPECTRUM_BANDS];
    start(&p, power);
    play(&p, 75, 1e-3f, true);
    assert_int_equal(counted(&p), 0);
    play(&p, 1, 1e-3f, true);
    assert_int_equal(counted(&p), 1);
    play(&p, 1, 0.5f, true);
    play(&p, 40, 1e-3f, true);
    assert_int_equal(tally_from(&p.read[0], &scale, -20.0), 19);
    peaks_reset(&p);
    assert_int_equal(counted(&p), 0);
    assert_true(p.state[0][0].s1 == 0.0 && p.state[0][1].s1 == 0.0);
    play(&p, 75, 1e-3f, true);
    assert_int_equal(counted(&p), 0);
    peaks_done(&p);
}

static void a_hold_is_no_shorter_at_other_rates(void **state)
{
    (void)state;
    ChainPeaks p;
    assert_true(peaks_init(&p, 44100.0, 1));
    assert_int_equal(p.hold.length, 1 + 17); /* 16.5 cells */
    peaks_done(&p);
}

/* 15 dB count as the highest there are, and those are over 9 dB. */
static void the_scale_has_an_end(void **state)
{
    (void)state;
    ChainPeaks p;
    double power[SPECTRUM_BANDS];
    const float x[DSP_CELL] = {0.f};
    start(&p, power);
    play(&p, 76, 0.5f, false);
    peaks_process(&p, (const float *const[]){x}, DSP_CELL);
    peaks_tick(&p, 0.0, -21.0, true);
    assert_int_equal(tally_from(&p.read[0], &scale, 9.0), 1);
    peaks_done(&p);
}

/* What rings on in the filters comes to rest, in every section of both channels. */
static void silence_leaves_nothing(void **state)
{
    (void)state;
    ChainPeaks p;
    double power[SPECTRUM_BANDS];
    start(&p, power);
    peaks_done(&p);
    assert_true(peaks_init(&p, RATE, 2));
    peaks_set(&p, &plain, power, 80.0);
    play(&p, 100, 0.5f, true);
    play(&p, 3000, 0.f, false);
    for (uint32_t c = 0; c < 2; ++c)
        for (uint32_t s = 0; s < p.sections; ++s)
            assert_true(p.state[c][s].s1 == 0.0 && p.state[c][s].s2 == 0.0);
    peaks_done(&p);
}

/* ---- When the curve is another one ---- */

/* Is it another curve with this band's power times `factor`, beside one that is flat? */
static bool is_another(uint32_t band, double factor)
{
    ChainPeaks p;
    double power[SPECTRUM_BANDS];
    start(&p, power);
    play(&p, 80, 0.5f, true);
    power[band] = factor;
    peaks_set(&p, &plain, power, 80.0);
    const bool another = counted(&p) == 0;
    peaks_done(&p);
    return another;
}

/* 2 dB, in the third-octave bands from 50 Hz to 5 kHz. */
static void only_large_changes_make_another_curve(void **state)
{
    (void)state;
    assert_true(is_another(12, 1.6) && is_another(12, 1.0 / 1.6));
    assert_false(is_another(12, 1.55) || is_another(12, 1.0 / 1.55));
    assert_true(is_another(2, 3.0) && is_another(22, 3.0));
    assert_false(is_another(1, 3.0) || is_another(23, 3.0));
}

static void a_curve_is_compared_with_the_last(void **state)
{
    (void)state;
    ChainPeaks p;
    double power[SPECTRUM_BANDS];
    start(&p, power);
    power[12] = 0.3;
    peaks_set(&p, &plain, power, 80.0);
    play(&p, 80, 0.5f, true);
    peaks_set(&p, &plain, power, 80.0);
    power[12] = 0.4;
    peaks_set(&p, &plain, power, 80.0);
    assert_int_equal(counted(&p), 5);
    power[12] = 0.5;
    peaks_set(&p, &plain, power, 80.0);
    assert_int_equal(counted(&p), 0);
    peaks_done(&p);
}

/* 1.9 dB is no change beside the flat curve, which it begins with; 2.2 dB is one. */
static void it_begins_beside_a_flat_curve(void **state)
{
    (void)state;
    for (int again = 0; again < 2; ++again) {
        ChainPeaks p;
        double power[SPECTRUM_BANDS];
        for (uint32_t b = 0; b < SPECTRUM_BANDS; ++b)
            power[b] = 1.0;
        assert_true(peaks_init(&p, RATE, 1));
        if (again) {
            power[12] = 0.3;
            peaks_set(&p, &plain, power, 80.0);
            peaks_known(&p, 0.0);
        }
        power[12] = 0.65;
        peaks_set(&p, &plain, power, 80.0);
        play(&p, 80, 0.5f, true);
        power[12] = 0.6;
        peaks_set(&p, &plain, power, 80.0);
        assert_int_equal(counted(&p), 0);
        peaks_done(&p);
    }
}

/* ---- The figure ---- */

/* The figure of 4 s of a steady input, where a share of the output's cells reads `high` dB, the others spread evenly
 * from `low` up to `top`. What was known before weighs a third. */
static double found_of(double share, double high, double low, double top, double before)
{
    ChainPeaks p;
    double power[SPECTRUM_BANDS];
    start(&p, power);
    peaks_known(&p, before);
    play(&p, 75, 0.5f, false);
    for (uint32_t cell = 0; cell < 4 * RATE / DSP_CELL; ++cell) {
        float x[DSP_CELL];
        const double u = fmod(cell * 0.61803398874989485, 1.0);
        for (uint32_t i = 0; i < DSP_CELL; ++i)
            x[i] = i % 2 ? 0.5f : -0.5f;
        peaks_process(&p, (const float *const[]){x}, DSP_CELL);
        peaks_tick(&p, u > 1.0 - share ? high : low + (top - low) * u / (1.0 - share), 0.0, true);
    }
    const double found = peaks_raised(&p);
    peaks_done(&p);
    return 1.5 * (found - before / 3.0) + 20.0 * log10(0.5);
}

/* Five points in the middle half of the loudest quarter. */
static void the_loudest_quarter_is_compared(void **state)
{
    (void)state;
    assert_true(fabs(found_of(0.0, 0.0, -40.0, 0.0, 0.0) - -5.0) < 0.3);
    assert_true(fabs(found_of(0.14, 0.0, -20.0, -20.0, 0.0) - -8.0) < 0.6);
    assert_true(fabs(found_of(0.07, 0.0, -20.0, -20.0, 0.0) - -16.0) < 0.6);
    assert_true(fabs(found_of(0.0, 0.0, -40.0, 0.0, 6.0) - -5.0) < 0.3);
}

/* Each is that of all that was counted, beside what was known before. */
static void a_new_figure_ten_times_a_second(void **state)
{
    (void)state;
    ChainPeaks p;
    double power[SPECTRUM_BANDS], last = 0.0;
    uint32_t moves = 0;
    start(&p, power);
    for (uint32_t cell = 0; cell < 4 * RATE / DSP_CELL; ++cell) {
        play(&p, 1, 0.5f, true);
        if (peaks_raised(&p) == last)
            continue;
        const double n = counted(&p), before = 4.0 * 1500 * (1.0 - n / (8.0 * 1500)); /* what counts for 0 dB */
        ++moves;
        last = peaks_raised(&p);
        assert_true(fabs(last - 6.0 * n / (n + before)) < 1e-6);
    }
    assert_in_range(moves, 38, 40);
    peaks_known(&p, 0.0);
    play(&p, 1, 0.5f, true);
    assert_true(peaks_raised(&p) > 0.0); /* at once */
    peaks_done(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_what_is_lost),
        cmocka_unit_test(another_curve_is_looked_at_anew),
        cmocka_unit_test(after_a_reset_it_waits_for_the_curve),
        cmocka_unit_test(a_rest_tells_nothing),
        cmocka_unit_test(rests_when_it_has_found),
        cmocka_unit_test(the_first_curve_is_heard),
        cmocka_unit_test(peaks_hold_and_beginnings_do_not_count),
        cmocka_unit_test(a_hold_is_no_shorter_at_other_rates),
        cmocka_unit_test(the_scale_has_an_end),
        cmocka_unit_test(silence_leaves_nothing),
        cmocka_unit_test(only_large_changes_make_another_curve),
        cmocka_unit_test(a_curve_is_compared_with_the_last),
        cmocka_unit_test(it_begins_beside_a_flat_curve),
        cmocka_unit_test(the_loudest_quarter_is_compared),
        cmocka_unit_test(a_new_figure_ten_times_a_second),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
