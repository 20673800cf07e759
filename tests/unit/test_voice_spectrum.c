/* The loudness of a voice by frequency: what a filter does to it, beside a meter by the standard that hears the
 * filtered take. On recorded voices (tests/voices.h) and on sines. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "design.h"
#include "figure.h"
#include "loudness.h"
#include "units.h"
#include "voice_spectrum.h"
#include "voices.h"

#define SECONDS 20.0

/* ---- Filters ---- */

enum { SECTIONS = 6 };

typedef struct {
    const char *name;
    uint32_t order;
    double low_cut, bell_hz[2], bell_db[2], bell_q[2], shelf_db;
} Shape;

static const Shape shapes[] = {
    {"a low cut at 120 Hz, 18 dB per octave", 3, 120.0, {0}, {0}, {0}, 0},
    {"dips of 6 and 4 dB at 300 and 800 Hz", 0, 0, {300.0, 800.0}, {-6.0, -4.0}, {1.4, 2.0}, 0},
    {"a narrow dip of 6 dB at 450 Hz", 0, 0, {450.0, 0}, {-6.0, 0}, {5.0, 0}, 0},
    {"6 dB of air", 0, 0, {0}, {0}, {0}, 6.0},
    {"all of it", 3, 120.0, {300.0, 800.0}, {-6.0, -4.0}, {1.4, 2.0}, 6.0},
};
enum { SHAPES = sizeof shapes / sizeof *shapes };

static uint32_t sections_of(const Shape *s, double rate, Biquad *section)
{
    uint32_t n = s->order ? design_butterworth_high_pass(s->order, s->low_cut, rate, section) : 0;
    for (int i = 0; i < 2; ++i)
        if (s->bell_db[i] < 0.0)
            section[n++] = design_bell(s->bell_hz[i], s->bell_db[i], s->bell_q[i], rate);
    if (s->shelf_db > 0.0)
        section[n++] = design_high_shelf(12000.0, s->shelf_db, rate);
    return n;
}

static double power_at(const Biquad *section, uint32_t sections, double hz, double rate)
{
    double power = 1.0;
    for (uint32_t i = 0; i < sections; ++i)
        power *= pow(biquad_gain(&section[i], hz, rate), 2.0);
    return power;
}

/* dB, from what was heard. */
static double change_reckoned(const VoiceSpectrum *heard, const Shape *s, double rate)
{
    Biquad section[SECTIONS];
    const uint32_t sections = sections_of(s, rate, section);
    double power[SPECTRUM_BANDS];
    EvenSums sums = {0};
    for (uint32_t b = 0; b < SPECTRUM_BANDS; ++b) {
        power[b] = 0.0;
        for (int k = -1; k <= 1; ++k)
            power[b] += power_at(section, sections, fmin(spectrum_hz(b) * exp2(k / 9.0), 0.49 * rate), rate) / 3.0;
    }
    for (uint32_t row = 0; row < EVEN_ROWS; ++row)
        spectrum_sum(heard, row, power, &sums);
    return -even_gain(heard->blocks, &sums, 1.0);
}

static double loudness_of(const float *x, uint32_t n, double rate)
{
    static Loudness meter;
    loudness_init(&meter, rate, 1);
    loudness_process(&meter, &x, n);
    return loudness_integrated(&meter);
}

/* LU, by the meter. */
static double change_measured(const Spoken *take, const Shape *s)
{
    Biquad section[SECTIONS];
    Sos sos;
    float *const y = malloc(take->n * sizeof *y), *const in = take->x;
    assert_non_null(y);
    const uint32_t sections = sections_of(s, take->rate, section);
    sos_init(&sos, sections, 1);
    for (uint32_t i = 0; i < sections; ++i)
        sos_jump(&sos, i, &section[i]);
    sos_process(&sos, (const float *const[]){in}, (float *const[]){y}, take->n);
    const double change = loudness_of(y, take->n, take->rate) - loudness_of(take->x, take->n, take->rate);
    free(y);
    return change;
}

static void hear(VoiceSpectrum *heard, const Spoken *take, uint32_t channels)
{
    static SpectrumEar ear;
    double energy[SPECTRUM_BANDS];
    *heard = (VoiceSpectrum){0};
    spectrum_ear_init(&ear, take->rate, channels);
    for (uint32_t at = 0; at + DSP_CELL <= take->n; at += DSP_CELL) {
        spectrum_ear_process(&ear, take->x + at, DSP_CELL);
        if (spectrum_ear_tick(&ear, energy))
            spectrum_add(heard, energy);
    }
}

/* ---- Recorded voices ---- */

static void filters_change_the_loudness_as_reckoned(void **state)
{
    (void)state;
    double worst[SHAPES] = {0};
    static VoiceSpectrum heard;
    for (uint32_t v = 0; v < VOICES_LONG; ++v) {
        Spoken take;
        if (!voices_speak(&take, v, 0, SECONDS))
            skip();
        hear(&heard, &take, 1);
        for (int i = 0; i < SHAPES; ++i) {
            const double error = change_reckoned(&heard, &shapes[i], take.rate) - change_measured(&take, &shapes[i]);
            worst[i] = fmax(worst[i], fabs(error));
        }
        spoken_free(&take);
    }
    for (int i = 0; i < SHAPES; ++i) {
        char text[100];
        snprintf(text, sizeof text, "recorded, %s: change reckoned, worst error", shapes[i].name);
        figure_at_most("Voice spectrum", text, worst[i], 0.4, "LU", "ours; required: 0.5");
    }
}

/* ---- Sines ---- */

static Spoken sine(double hz, double amplitude, double rate, double seconds)
{
    Spoken s = {.rate = rate, .n = (uint32_t)(seconds * rate)};
    s.x = calloc(s.n, sizeof *s.x);
    assert_non_null(s.x);
    for (uint32_t i = 0; i < s.n; ++i)
        s.x[i] = (float)(amplitude * sin(2.0 * DSP_PI * hz * i / rate));
    return s;
}

/* dB: K-weighted mean square of all blocks, and the band with most of it. */
static double level_heard(const VoiceSpectrum *heard, uint32_t *band)
{
    const double all[SPECTRUM_BANDS] = {0};
    double most = -1.0, in = 0.0;
    EvenSums sums = {0};
    for (uint32_t row = 0; row < EVEN_ROWS; ++row)
        spectrum_sum(heard, row, all, &sums);
    for (uint32_t b = 0; b < SPECTRUM_BANDS; ++b) {
        double energy = 0.0;
        for (uint32_t row = 0; row < EVEN_ROWS; ++row)
            energy += db_to_power(even_row_level(row)) * heard->energy[row][b];
        *band = energy > most ? b : *band;
        most = fmax(most, energy);
    }
    for (uint32_t row = 0; row < EVEN_ROWS; ++row)
        in += sums.in[row];
    return power_to_db(in / heard->count);
}

/* At every rate a sine lies in its band, and all bands together have its loudness. */
static void a_sine_is_as_loud_as_it_is(void **state)
{
    (void)state;
    static const double rates[] = {8000, 16000, 44100, 96000, 192000};
    static VoiceSpectrum heard;
    double worst = 0.0, aside = 0.0;
    for (size_t r = 0; r < sizeof rates / sizeof *rates; ++r)
        for (double hz = 80.0; hz < fmin(0.3 * rates[r], 10000.0); hz *= 1.7) {
            Spoken s = sine(hz, 0.2, rates[r], 2.0);
            uint32_t band = 0;
            hear(&heard, &s, 1);
            const double level = level_heard(&heard, &band);
            worst = fmax(worst, fabs(level - 0.691 - loudness_of(s.x, s.n, s.rate)));
            aside = fmax(aside, fabs(log2(spectrum_hz(band) / hz)));
            spoken_free(&s);
        }
    figure_at_most("Voice spectrum", "sines of 80 Hz to 10 kHz, any rate: loudness off by", worst, 1.5, "LU",
                   "our own");
    figure_at_most("Voice spectrum", "sines: the strongest band lies aside by", aside, 0.18, "octaves",
                   "our own: half a band and little more");
}

static void what_is_too_quiet_does_not_count(void **state)
{
    (void)state;
    static VoiceSpectrum heard;
    Spoken s = sine(1000.0, 3e-5, 16000.0, 2.0);
    hear(&heard, &s, 1);
    assert_int_equal(heard.count, 0);
    spoken_free(&s);
}

/* Two channels of the same are 3 dB louder. */
static void channels_add_up(void **state)
{
    (void)state;
    static VoiceSpectrum heard;
    Spoken s = sine(1000.0, 0.1, 16000.0, 2.0);
    uint32_t band = 0;
    hear(&heard, &s, 1);
    const double one = level_heard(&heard, &band);
    hear(&heard, &s, 2);
    assert_true(fabs(level_heard(&heard, &band) - one - power_to_db(2.0)) < 1e-3);
    spoken_free(&s);
}

/* Denormals would cost many times as much. */
static void no_state_is_ever_denormal(void **state)
{
    (void)state;
    static const double rates[] = {8000.0, 11025.0, 48000.0, 384000.0};
    static SpectrumEar ear;
    for (size_t r = 0; r < sizeof rates / sizeof *rates; ++r) {
        spectrum_ear_init(&ear, rates[r], 1);
        for (uint32_t cell = 0; cell * DSP_CELL < 3.0 * rates[r]; ++cell) {
            float x[DSP_CELL] = {0.f};
            double energy[SPECTRUM_BANDS], sum = 0.0;
            x[0] = cell < 10 ? 1.f : 0.f;
            spectrum_ear_process(&ear, x, DSP_CELL);
            spectrum_ear_tick(&ear, energy);
            for (uint32_t s = 0; s < SPECTRUM_STAGES; ++s)
                for (uint32_t b = 0; b < SPECTRUM_BANDS; ++b) {
                    const SpectrumBands *const now = &ear.state[s];
                    assert_true(fpclassify(now->real[b]) != FP_SUBNORMAL);
                    assert_true(fpclassify(now->imaginary[b]) != FP_SUBNORMAL);
                    sum += fabs((double)now->real[b]) + fabs((double)now->imaginary[b]);
                }
            assert_true(cell > 10 ? sum == 0.0 || cell * DSP_CELL < 2.5 * rates[r] : sum > 0.0);
        }
    }
}

/* Hours of it: proportions stay, and every count can be stored. */
static void hours_are_kept_in_proportion(void **state)
{
    (void)state;
    static VoiceSpectrum heard;
    double energy[SPECTRUM_BANDS] = {0};
    heard = (VoiceSpectrum){0};
    energy[10] = db_to_power(-19.0);
    energy[20] = db_to_power(-39.0);
    for (uint32_t i = 0; i < 100000; ++i)
        assert_true(spectrum_add(&heard, energy));
    const uint32_t row = even_fine(-19.0) / EVEN_STEP;
    assert_true(heard.energy[row][10] < SPECTRUM_MOST && heard.count < 65536);
    figure_within("Voice spectrum", "three hours of a band 20 dB under another: lies under it by",
                  power_to_db((double)heard.energy[row][10] / heard.energy[row][20]), 20, 0.01, "dB", "arithmetic");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(filters_change_the_loudness_as_reckoned),
        cmocka_unit_test(a_sine_is_as_loud_as_it_is),
        cmocka_unit_test(what_is_too_quiet_does_not_count),
        cmocka_unit_test(channels_add_up),
        cmocka_unit_test(no_state_is_ever_denormal),
        cmocka_unit_test(hours_are_kept_in_proportion),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
