/* ITU-R BS.1770-4/-5, and libebur128 as an independent implementation of it. Marks: [T] the table was seen
 * second-hand, [M] from memory, [C] computed from the prototypes. */
#include "loudness.h"

#include "figure.h"
#include "seeds.h"
#include "units.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#ifdef HAVE_EBUR128
#include <ebur128.h>
#endif

#define TABLE "BS.1770 table, 48 kHz [T]"

static double off(const Biquad *a, const Biquad *b)
{
    double worst = 0.0;
    worst = fmax(worst, fabs(a->b0 - b->b0));
    worst = fmax(worst, fabs(a->b1 - b->b1));
    worst = fmax(worst, fabs(a->b2 - b->b2));
    worst = fmax(worst, fabs(a->a1 - b->a1));
    return fmax(worst, fabs(a->a2 - b->a2));
}

static void coefficients_are_the_tables(void **state)
{
    (void)state;
    static const Biquad table[2] = {
        {1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585},
        {1.0, -2.0, 1.0, -1.99004745483398, 0.99007225036621},
    };
    const Biquad shelf = kweight_design(0, 48000.0), pass = kweight_design(1, 48000.0);
    figure_at_most("Loudness", "K shelf coefficients off the table", off(&shelf, &table[0]), 1e-14, "", TABLE);
    figure_at_most("Loudness", "K high-pass coefficients off the table", off(&pass, &table[1]), 1e-14, "", TABLE);
}

/* Magnitude of the K curve at 48 kHz [C]. */
static const struct {
    double hz, db;
} curve[] = {{100, -1.1335}, {500, 0.0425}, {997, 0.6910}, {2000, 3.0713}, {10000, 4.0419}};

static void curve_is_the_tables(void **state)
{
    (void)state;
    const Biquad shelf = kweight_design(0, 48000.0), pass = kweight_design(1, 48000.0);
    for (size_t i = 0; i < sizeof curve / sizeof *curve; ++i) {
        const double gain = biquad_gain(&shelf, curve[i].hz, 48000.0) * biquad_gain(&pass, curve[i].hz, 48000.0);
        assert_float_equal(gain_to_db(gain), curve[i].db, 6e-5);
    }
}

static Loudness *meter(double rate, uint32_t channels)
{
    Loudness *l = malloc(sizeof *l);
    assert_non_null(l);
    loudness_init(l, rate, channels);
    return l;
}

static double off_full_scale(double rate)
{
    Loudness *l = meter(rate, 1);
    const uint32_t n = (uint32_t)(3.0 * rate);
    for (uint32_t t = 0; t < n; ++t) {
        const float x = (float)sin(2.0 * DSP_PI * 997.0 * t / rate);
        loudness_process(l, (const float *[]){&x}, 1);
    }
    const double off = fabs(loudness_integrated(l) + 3.01);
    free(l);
    return off;
}

static void full_scale_sine_reads_minus_three(void **state)
{
    (void)state;
    static const double rates[] = {16000, 44100, 48000, 96000, 192000, 384000};
    double worst = 0.0;
    for (size_t r = 0; r < sizeof rates / sizeof *rates; ++r)
        worst = fmax(worst, off_full_scale(rates[r]));
    figure_at_most("Loudness", "997 Hz at 0 dBFS, one channel, off -3.01 LUFS, 16 to 384 kHz", worst, 0.05, "LU",
                   "BS.1770 [M, C]");
    figure_note("Loudness", "the same at 8 kHz: the shelf is bent by the end of the band", off_full_scale(8000.0),
                "LU");
}

#ifdef HAVE_EBUR128
static double noise(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (double)*seed / 2147483648.0 - 1.0;
}

/* Interleaved noise, dull and bright by turns, its level wandering over 50 dB. */
static float *material(uint32_t n, uint32_t channels, double rate)
{
    float *x = malloc((size_t)n * channels * sizeof *x);
    assert_non_null(x);
    uint32_t seed = seeded(7);
    double dull[DSP_CHANNELS] = {0};
    for (uint32_t t = 0; t < n; ++t)
        for (uint32_t c = 0; c < channels; ++c) {
            const double s = t / rate, white = noise(&seed);
            dull[c] += (2.0 * DSP_PI * 200.0 / rate) * (white - dull[c]);
            const double mix = 0.5 + 0.5 * sin(2.0 * DSP_PI * 0.11 * s + c);
            x[t * channels + c] =
                (float)((mix * white + 6.0 * (1.0 - mix) * dull[c]) * db_to_gain(-30.0 + 25.0 * sin(0.3 * s)));
        }
    return x;
}

static void feed(Loudness *l, const float *x, uint32_t n, uint32_t channels)
{
    for (uint32_t t = 0; t < n; ++t)
        loudness_process(l, (const float *[]){x + (size_t)t * channels, x + (size_t)t * channels + channels - 1}, 1);
}

static double against(double rate, uint32_t channels)
{
    const uint32_t n = (uint32_t)(30.0 * rate);
    float *x = material(n, channels, rate);
    Loudness *l = meter(rate, channels);
    ebur128_state *e = ebur128_init(channels, (unsigned long)rate, EBUR128_MODE_I | EBUR128_MODE_S | EBUR128_MODE_LRA);
    assert_non_null(e);
    if (channels == 1)
        ebur128_set_channel(e, 0, EBUR128_LEFT);
    feed(l, x, n, channels);
    assert_int_equal(ebur128_add_frames_float(e, x, n), EBUR128_SUCCESS);
    double m, s, i;
    ebur128_loudness_momentary(e, &m);
    ebur128_loudness_shortterm(e, &s);
    ebur128_loudness_global(e, &i);
    double worst = fabs(loudness_now_momentary(&l->now) - m);
    worst = fmax(worst, fabs(loudness_now_short_term(&l->now) - s));
    worst = fmax(worst, fabs(loudness_integrated(l) - i));
    ebur128_destroy(&e);
    free(l);
    free(x);
    return worst;
}
#endif

static void agrees_with_libebur128(void **state)
{
    (void)state;
#ifdef HAVE_EBUR128
    static const double rates[] = {22050, 44100, 48000, 96000};
    double worst = 0.0;
    for (size_t r = 0; r < sizeof rates / sizeof *rates; ++r)
        for (uint32_t channels = 1; channels <= 2; ++channels)
            worst = fmax(worst, against(rates[r], channels));
    figure_at_most("Loudness", "M, S and I against libebur128, 22.05 to 96 kHz", worst, 0.1, "LU", "libebur128");
#else
    skip();
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(coefficients_are_the_tables),
        cmocka_unit_test(curve_is_the_tables),
        cmocka_unit_test(full_scale_sine_reads_minus_three),
        cmocka_unit_test(agrees_with_libebur128),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
