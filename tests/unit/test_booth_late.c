/* What Booth takes for late sound, and the gains that follow: tables of powers drawn by hand. */
#include "booth_late.h"

#include "booth_falls.h"
#include "dsp.h"
#include "figure.h"
#include "seeds.h"
#include "singer/random.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum { SIZE = 1536, HOP = 512, BINS = SIZE / 2 + 1, LOW = 30 }; /* LOW: a bin under 1 kHz */
#define RATE 48000.0

static BoothLate late;
static float power[BINS], gain[BINS];

static int begin(void **state)
{
    (void)state;
    return booth_late_init(&late, RATE, SIZE, HOP) ? 0 : -1;
}

static int end(void **state)
{
    (void)state;
    booth_late_done(&late);
    return 0;
}

static BoothRoom room(double decay, double of_early)
{
    return (BoothRoom){.sure = 1.0, .middle = decay, .late = of_early, .decay = {decay, decay, decay, decay, decay}};
}

/* A frame with the same power in every bin. */
static void frame(float p)
{
    booth_late_next(&late);
    for (uint32_t k = 0; k < BINS; ++k)
        power[k] = p;
    for (uint32_t b = 0; b < late.bands; ++b)
        booth_late_gains(&late, b, power + late.edge[b], gain + late.edge[b]);
}

static void bands_cover_every_bin(void **state)
{
    (void)state;
    static const double rates[] = {8000.0, 44100.0, 48000.0, 384000.0};
    static const uint32_t sizes[] = {192, 1536, 1536, 12288};
    for (int r = 0; r < 4; ++r) {
        BoothLate l;
        assert_true(booth_late_init(&l, rates[r], sizes[r], sizes[r] / 3));
        assert_true(l.edge[0] == 0 && l.edge[l.bands] == l.bins && l.bands <= BOOTH_AROUND && l.bands > 8);
        for (uint32_t b = 0; b < l.bands; ++b) {
            const double width = (l.edge[b + 1] - l.edge[b]) * rates[r] / sizes[r];
            assert_true(width >= 249.0 && l.hz[b] > l.edge[b] * rates[r] / sizes[r]);
            assert_true(width < fmax(2.0 * 250.0, 0.5 * l.hz[b]) || b + 1 == l.bands);
        }
        booth_late_done(&l);
    }
}

static void no_room_changes_nothing(void **state)
{
    (void)state;
    const BoothRoom none = {0};
    booth_late_room(&late, &none, 0.05, 1.0);
    for (int i = 0; i < 40; ++i)
        frame(i % 5 ? 1.f : 1e-3f);
    for (uint32_t k = 0; k < BINS; ++k)
        assert_true(gain[k] == 1.f && late.late[k] == 0.f);
}

/* A sound that stops: for four frames nothing is late, then it falls by the decay time, from the given share of it. */
static void late_sound_follows_the_early(void **state)
{
    (void)state;
    const double decay = 0.6, share = 0.2, keep = booth_keep(HOP / RATE, decay);
    const BoothRoom r = room(decay, share);
    booth_late_room(&late, &r, 0.05, 1.0);
    assert_int_equal(late.lag, 4); /* 42.7 of 50 ms */
    frame(1.f);
    const float first = late.smooth[LOW];
    for (int i = 0; i < 3; ++i) {
        frame(0.f);
        assert_true(late.late[LOW] == 0.f);
    }
    frame(0.f);
    assert_true(fabs((double)late.late[LOW] / ((double)first * share * (1.0 - keep)) - 1.0) <
                2e-3); /* a thousandth is noise */
    for (int i = 0; i < 20; ++i)
        frame(0.f);
    const float before = late.late[LOW];
    for (int i = 0; i < 10; ++i)
        frame(0.f);
    figure_within("Booth", "late sound, 0.107 s on, room of 0.6 s", power_to_db((double)(late.late[LOW] / before)),
                  -60.0 * 10.0 * HOP / RATE / decay, 0.02, "dB", "definition of T60; wide: rounding of floats");
}

/* A steady sound in a room: in the end late sound has its share of it. */
static void a_steady_sound_has_its_late_part(void **state)
{
    (void)state;
    const BoothRoom r = room(0.8, 0.5);
    booth_late_room(&late, &r, 0.05, 1.0);
    for (int i = 0; i < 600; ++i)
        frame(3.f);
    figure_within("Booth", "steady sound, a third of it late: found", (double)late.late[LOW], 1.0, 0.02, "",
                  "ours: the model's own; wide: rounding of floats");
    for (uint32_t k = 0; k < BINS; ++k)
        assert_true(gain[k] > 0.05f && gain[k] < 1.f);
}

/* What is taken for late from 30 or 100 ms on is more or less by what decays between. */
static void later_is_less(void **state)
{
    (void)state;
    const BoothRoom r = room(0.5, 0.3);
    booth_late_room(&late, &r, 0.05, 1.0);
    const double usual = (double)late.feed[5];
    booth_late_room(&late, &r, 0.03, 1.0);
    assert_int_equal(late.lag, 2);
    assert_true(fabs(power_to_db((double)late.feed[5] / usual) - 60.0 * 2 * HOP / RATE / 0.5) < 1e-3);
    booth_late_room(&late, &r, 0.1, 1.0);
    assert_int_equal(late.lag, 9);
    assert_true(fabs(power_to_db((double)late.feed[5] / usual) + 60.0 * 5 * HOP / RATE / 0.5) < 1e-3);
}

static double decay_in(uint32_t band)
{
    return -60.0 * HOP / RATE / power_to_db((double)late.keep[band]);
}

/* Between the bands' middles the decay time goes along with the frequency. */
static void bands_have_their_own_decay(void **state)
{
    (void)state;
    BoothRoom r = room(1.0, 0.3);
    r.decay[3] = r.decay[4] = 0.4;
    booth_late_room(&late, &r, 0.05, 1.0);
    double before = 1.0;
    for (uint32_t b = 0; b < late.bands; ++b) {
        if (late.hz[b] < 1414.0)
            assert_true(fabs(decay_in(b) - 1.0) < 1e-3);
        if (late.hz[b] > 2829.0)
            assert_true(fabs(decay_in(b) - 0.4) < 1e-3);
        assert_true(decay_in(b) <= before + 1e-4);
        before = decay_in(b);
    }
}

/* A quarter less for each octave over 1.5 kHz, and no less than at 10.4 kHz; and the less of it is late. */
static void highs_die_away_sooner(void **state)
{
    (void)state;
    BoothRoom r = room(0.8, 0.3);
    r.decay[0] = 1.2; /* by their own figure, where that is no high */
    booth_late_room(&late, &r, 0.05, 1.0);
    double worst = 0.0, off = 0.0;
    for (uint32_t b = 2; b < late.bands; ++b) {
        const double octaves = dsp_clamp(log2(late.hz[b] / 1500.0), 0.0, 2.8);
        const double decay = late.hz[b] > 1500.0 ? 0.8 * pow(0.74, octaves) : decay_in(b);
        const double part = 0.3 * db_to_power(-3.0 / decay + 3.0 / 0.8);
        worst = fmax(worst, fabs(decay_in(b) / decay - 1.0));
        off = fmax(off, fabs((double)late.feed[b] / (1.0 - (double)late.keep[b]) / part - 1.0));
    }
    assert_true(decay_in(0) > 1.19 && decay_in(late.bands - 1) < 0.36);
    figure_at_most("Booth", "room of 0.8 s: decay of the highs beside the rule, off by", 100.0 * worst, 0.01, "%",
                   "ours; wide: rounding of floats");
    figure_at_most("Booth", "room of 0.8 s: late part of every band beside the rule, off by", 100.0 * off, 0.01, "%",
                   "ours; wide: rounding of floats");
}

/* 17 s of a steady noise are known for one, and what stands out of it sounds on in the room all the same. */
static void a_steady_noise_makes_no_late_sound(void **state)
{
    (void)state;
    const BoothRoom r = room(0.8, 0.5);
    booth_late_room(&late, &r, 0.05, 1.0);
    for (int i = 0; i < 200; ++i)
        frame(0.01f);
    assert_true(late.late[LOW] > 0.003f);
    for (int i = 0; i < 1394; ++i)
        frame(0.01f);
    assert_true(late.late[LOW] < 1e-4f && gain[LOW] > 0.99f);
    for (int i = 0; i < 90; ++i)
        frame(i < 50 ? 0.01f : 1.f);
    for (int i = 0; i < 10; ++i)
        frame(0.f); /* digital silence is no noise */
    assert_true(late.late[LOW] > 0.05f && late.noise[2] > 0.05f);
    frame(0.002f); /* half of the way down at once, after 40 frames up by 2 dB a second */
    const double risen = 0.01 * db_to_power(2.0 * 40 * HOP / RATE);
    assert_true(fabs((double)late.noise[2] / (0.5 * (risen + 0.002) * (late.edge[3] - late.edge[2])) - 1.0) < 0.01);
    booth_late_reset(&late);
    assert_true(late.noise[2] == 0.f);
}

/* Noise that stops, in a room that keeps to the model: in the gap all of it goes, and no bin stands out. */
static void a_gap_goes_down_evenly(void **state)
{
    (void)state;
    enum { FRAMES = 120, STOPS = 80, LAG = 4, WHOLE = 48 }; /* under 1.5 kHz the whole part is late */
    uint32_t standing = 0;                                  /* bins in the gap that go down by less than 6 dB */
    static float early[FRAMES][BINS], tail[BINS];
    const BoothRoom r = room(0.7, 0.3);
    Random random = random_stream(seeded(4), 2);
    double in = 0.0, out = 0.0, most = 0.0, kept = 0.0, sounding = 0.0;
    booth_late_room(&late, &r, 0.05, 1.0);
    for (int i = 0; i < FRAMES; ++i) {
        booth_late_next(&late);
        for (uint32_t k = 0, b = 0; k < BINS; ++k) {
            b += k == late.edge[b + 1];
            early[i][k] = i < STOPS ? (float)-log(random_unit(&random) + 1e-9) : 0.f;
            tail[k] = late.keep[b] * tail[k] + (i >= LAG ? late.feed[b] * early[i - LAG][k] : 0.f);
            power[k] = early[i][k] + tail[k] * (float)-log(random_unit(&random) + 1e-9);
        }
        for (uint32_t b = 0; b < late.bands; ++b)
            booth_late_gains(&late, b, power + late.edge[b], gain + late.edge[b]);
        for (uint32_t k = 0; k < BINS; ++k) {
            const double left = (double)(power[k] * gain[k] * gain[k]);
            in += i > STOPS + LAG ? (double)power[k] : 0.0;
            out += i > STOPS + LAG ? left : 0.0;
            most = i > STOPS + LAG ? fmax(most, (double)gain[k]) : most;
            standing += i > STOPS + LAG && gain[k] > 0.5f;
            kept += i > 40 && i < STOPS && k < WHOLE ? left : 0.0;
            sounding += i > 40 && i < STOPS && k < WHOLE ? (double)power[k] : 0.0;
        }
    }
    figure_at_most("Booth", "a gap after noise, by the gains: down by", power_to_db(out / in), -12.0, "dB", "ours");
    figure_at_most("Booth", "a gap after noise: of 27 thousand bins, those that go down by less than 6 dB", standing,
                   4.0, "", "ours: no musical noise; wide: none with most seeds, two with some");
    figure_note("Booth", "a gap after noise: the bin that stands out most, gain", power_to_db(most * most), "dB");
    figure_within("Booth", "the noise itself, a quarter of it late: down by", power_to_db(kept / sounding), -2.5, 0.14,
                  "dB", "ours: 1.1 dB is late, and so soft a gain takes as much again of noise; a voice loses less");
}

/* More counts as late: more goes. */
static void more_may_count(void **state)
{
    (void)state;
    double sum[3] = {0};
    for (int i = 0; i < 3; ++i) {
        const BoothRoom r = room(0.8, 0.3);
        booth_late_reset(&late);
        booth_late_room(&late, &r, 0.05, db_to_power(6.0 * (i - 1)));
        for (int f = 0; f < 100; ++f)
            frame(1.f);
        sum[i] = (double)gain[LOW];
    }
    assert_true(sum[0] > sum[1] + 0.05 && sum[1] > sum[2] + 0.05);
}

/* ---- The same once more, plainly in double ---- */

typedef struct {
    double late, smooth, before, early[16];
} PlainBin;

/* One band of `n` bins: the model, the Wiener gain with its decision-directed ratio, and the band's own factor. */
static void plain_band(PlainBin *bin, uint32_t n, double keep, double feed, double counts, uint32_t frame_number,
                       const float *p, double *noise, double *wanted)
{
    const double smoothing = exp(-(HOP / RATE) / 0.007), trust = pow(0.6, 95.0 * HOP / RATE);
    double all = 0.0, sum = 1e-12;
    for (uint32_t k = 0; k < n; ++k) {
        bin[k].late = keep * bin[k].late + feed * bin[k].early[(frame_number + 16 - 4) % 16];
        sum += counts * bin[k].late;
        all += (double)p[k];
    }
    *noise = *noise > 0.0 ? (all < *noise ? 0.5 * (*noise + all) : *noise * db_to_power(2.0 * HOP / RATE)) : 1e-3 * all;
    const double share = fmax(1.0 - (sum + *noise) / all, 0.0);
    const double present = fmin(10.0 * log10(fmax(all / sum, 1.0)) / 5.0, 1.0), whole = pow(0.25, 1.0 - present);
    for (uint32_t k = 0; k < n; ++k) {
        PlainBin *b = &bin[k];
        b->smooth = smoothing * b->smooth + (1.0 - smoothing) * (double)p[k];
        b->early[frame_number % 16] = share * b->smooth;
        const double over = (double)p[k] / (counts * b->late + 1e-12);
        const double prior = trust * b->before + (1.0 - trust) * fmax(over - 1.0, 0.0),
                     gain_now = prior / (1.0 + prior);
        b->before = gain_now * gain_now * over;
        wanted[k] = gain_now * whole;
    }
}

static void the_gains_are_those_of_the_equations(void **state)
{
    (void)state;
    enum { FRAMES = 200, BAND = 4 };
    static PlainBin bin[BINS];
    static double wanted[BINS];
    const BoothRoom r = room(0.7, 0.4);
    Random random = random_stream(seeded(6), 3);
    const uint32_t from = late.edge[BAND], n = late.edge[BAND + 1] - from;
    double worst = 0.0, noise = 0.0;
    booth_late_room(&late, &r, 0.05, 1.3);
    const double keep = pow(10.0, -6.0 * HOP / RATE / 0.7), feed = 0.4 * (1.0 - keep);
    for (uint32_t f = 0; f < FRAMES; ++f) {
        booth_late_next(&late);
        const double level = f % 50 < 30 ? 1.0 : f % 50 < 40 ? 1e-2 : 1e-4;
        for (uint32_t k = 0; k < n; ++k)
            power[from + k] = (float)(level * -log(random_unit(&random) + 1e-9));
        booth_late_gains(&late, BAND, power + from, gain + from);
        plain_band(bin, n, keep, feed, 1.3, f, power + from, &noise, wanted);
        for (uint32_t k = 0; k < n; ++k)
            worst = fmax(worst, fabs((double)gain[from + k] - wanted[k]));
    }
    figure_at_most("Booth", "gains of a band beside the same equations in double: off by", worst, 3e-6, "", "ours");
}

/* 250 Hz, or 0.19 of the frequency where that is more. */
static void bands_are_as_wide_as_they_should(void **state)
{
    (void)state;
    const double bin = RATE / SIZE;
    for (uint32_t b = 0; b + 1 < late.bands; ++b) {
        const double low = late.edge[b] * bin, width = (late.edge[b + 1] - late.edge[b]) * bin;
        const double wanted = fmax(250.0, 0.19 * low);
        assert_true(width >= wanted - 1e-6 && width < wanted + bin);
        assert_true(fabs(late.hz[b] - low - 0.5 * width) < 1e-6);
    }
}

static void silence_stays_finite(void **state)
{
    (void)state;
    const BoothRoom r = room(0.5, 0.3);
    booth_late_room(&late, &r, 0.05, 1.0);
    for (int i = 0; i < 2000; ++i)
        frame(i < 5 ? 1e5f : 0.f);
    for (uint32_t k = 0; k < BINS; ++k)
        assert_true(gain[k] >= 0.f && gain[k] <= 1.f && late.late[k] == 0.f && late.smooth[k] == 0.f);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(bands_cover_every_bin, begin, end),
        cmocka_unit_test_setup_teardown(no_room_changes_nothing, begin, end),
        cmocka_unit_test_setup_teardown(late_sound_follows_the_early, begin, end),
        cmocka_unit_test_setup_teardown(a_steady_sound_has_its_late_part, begin, end),
        cmocka_unit_test_setup_teardown(later_is_less, begin, end),
        cmocka_unit_test_setup_teardown(bands_have_their_own_decay, begin, end),
        cmocka_unit_test_setup_teardown(highs_die_away_sooner, begin, end),
        cmocka_unit_test_setup_teardown(a_steady_noise_makes_no_late_sound, begin, end),
        cmocka_unit_test_setup_teardown(a_gap_goes_down_evenly, begin, end),
        cmocka_unit_test_setup_teardown(more_may_count, begin, end),
        cmocka_unit_test_setup_teardown(the_gains_are_those_of_the_equations, begin, end),
        cmocka_unit_test_setup_teardown(bands_are_as_wide_as_they_should, begin, end),
        cmocka_unit_test_setup_teardown(silence_stays_finite, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
