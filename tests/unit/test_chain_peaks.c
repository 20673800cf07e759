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
    /* Four fifths of it: what was known before, nothing, still weighs a second. */
    figure_within("Chain", "peaks 1.5 dB lower for 4 s: found", peaks_raised(&p), -1.2, 0.03, "dB", "ours");
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
    power[12] = 0.75; /* 1.25 dB */
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
    assert_true(tally_total(&p.read[0], &(TallyScale){.low = -90.0, .step = 0.5, .bins = 200}) == 0.0);
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
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
