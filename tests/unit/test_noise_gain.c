/* The gains: the estimator's table against its integral, and what they do to noise and to voice. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "figure.h"
#include "noise_gain.h"
#include "seeds.h"
#include "singer/random.h"

/* E1(v) by Simpson's rule over log t, from v on: as plain as can be, and slow. */
static double plain_e1(double v)
{
    enum { STEPS = 2000 };
    const double from = log(v), to = log(v + 60.0), step = (to - from) / STEPS;
    double sum = 0.0;
    for (int i = 0; i <= STEPS; ++i)
        sum += exp(-exp(from + i * step)) * (i == 0 || i == STEPS ? 1.0 : i % 2 ? 4.0 : 2.0);
    return sum * step / 3.0;
}

static void the_table_is_the_integral(void **state)
{
    (void)state;
    NoiseGain g;
    noise_gain_init(&g, 94.0);
    assert_true(fabs(plain_e1(1.0) - 0.219383934) < 1e-8); /* Abramowitz and Stegun, table 5.1, from memory */
    double worst = 0.0;
    for (double v = 0x1p-11; v < 40.0; v *= 1.0037)
        worst = fmax(
            worst, fabs(20.0 * log10((double)noise_gain_factor(&g, (float)v)) - 20.0 * log10(exp(0.5 * plain_e1(v)))));
    figure_at_most("Floor", "exp(E1(v) / 2) by the table: off by", worst, 0.07, "dB", "ours");
}

enum { BINS = 64, FRAMES = 2000 };

/* Noise alone: exponential powers, since real and imaginary part are normal. */
static void noise_alone_lies_at_the_lowest_gain(void **state)
{
    (void)state;
    NoiseGain g;
    noise_gain_init(&g, 94.0);
    Random random = random_stream(seeded(3), 1);
    float power[BINS], noise[BINS], before[BINS] = {0}, gain[BINS];
    double in = 0.0, out = 0.0;
    for (int f = 0; f < FRAMES; ++f) {
        for (int k = 0; k < BINS; ++k) {
            noise[k] = 0.01f;
            power[k] = (float)(-0.01 * log(1.0 - random_unit(&random)));
        }
        noise_gain_bins(&g, power, noise, 1.f, 0.25f, before, gain, BINS);
        for (int k = 0; k < BINS; ++k) {
            assert_true(gain[k] >= 0.25f && gain[k] <= 1.f);
            in += (double)power[k];
            out += (double)(gain[k] * gain[k] * power[k]);
        }
    }
    figure_within("Floor", "noise alone, frames that share nothing, 12.04 dB asked for: down by",
                  10.0 * log10(in / out), 12.04, 1.0, "dB", "requirement");
}

static void a_voice_far_over_the_noise_stays(void **state)
{
    (void)state;
    NoiseGain g;
    noise_gain_init(&g, 94.0);
    const float power[] = {10.f, 1.f, 0.1f}, noise[] = {0.001f, 0.001f, 0.001f};
    float before[3] = {0}, gain[3];
    noise_gain_bins(&g, power, noise, 1.f, 0.25f, before, gain, 3);
    assert_true(gain[0] > 0.99f && gain[1] > 0.94f && gain[2] > 0.6f); /* at once */
    for (int f = 0; f < 50; ++f)
        noise_gain_bins(&g, power, noise, 1.f, 0.25f, before, gain, 3);
    assert_true(gain[0] > 0.999f && gain[1] > 0.998f && gain[2] > 0.98f); /* and as it goes on */
    float more[3] = {0}, less[3];
    noise_gain_bins(&g, power, noise, 4.f, 0.25f, more, less, 3);
    assert_true(less[2] < 0.6f); /* four times the noise counts for more */
}

/* The equations plainly, in double, but for the factor, which has a test of its own. Powers lie around the noise, where
 * the least prior ratio counts; with the highest of these lowest gains it is that of the method, with the other two the
 * lowest gain's square. */
static void gains_are_those_of_the_equations(void **state)
{
    (void)state;
    static const double lowest[] = {0.02, 0.17, 0.178}, frames = 80.0, counts = 1.7;
    NoiseGain g;
    noise_gain_init(&g, frames);
    const double trust = pow(0.98, 125.0 / frames);
    for (int l = 0; l < 3; ++l) {
        Random random = random_stream(3, 2);
        float power[BINS], noise[BINS], before[BINS] = {0}, gain[BINS + 1] = {0};
        double last[BINS] = {0};
        for (int f = 0; f < 200; ++f) {
            const double least = fmin(0.03, lowest[l] * lowest[l]), louder = f / 20 % 2 ? 8.0 : 1.0;
            for (int k = 0; k < BINS; ++k) {
                noise[k] = 0.01f * (float)(k + 1);
                power[k] = (float)(-louder * (double)noise[k] * log(1.0 - random_unit(&random)));
            }
            noise_gain_bins(&g, power, noise, (float)counts, (float)lowest[l], before, gain, BINS);
            for (int k = 0; k < BINS; ++k) {
                const double over = (double)power[k] / (counts * (double)noise[k]);
                const double prior = fmax(trust * last[k] + (1.0 - trust) * fmax(over - 1.0, 0.0), least);
                const double share = prior / (1.0 + prior);
                const double best = share * (double)noise_gain_factor(&g, (float)(share * over));
                const double wanted = fmin(fmax(best, lowest[l]), 1.0);
                assert_true(fabs((double)gain[k] - wanted) < 0.003 * wanted); /* the table's steps */
                last[k] = (double)before[k];
                assert_true(fabs(last[k] - best * best * over) < 0.006 * last[k]);
            }
            assert_true(gain[BINS] == 0.f);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_table_is_the_integral),
        cmocka_unit_test(noise_alone_lies_at_the_lowest_gain),
        cmocka_unit_test(a_voice_far_over_the_noise_stays),
        cmocka_unit_test(gains_are_those_of_the_equations),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
