/* A pitch from signs alone: of notes, noise, silence. */
#include "voicing.h"

#include "design.h"
#include "figure.h"
#include "seeds.h"
#include "singer/random.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define RATE 6000.0 /* Hz, of the signs */

static void signs_come_at_an_even_rate(void **state)
{
    static const double rates[] = {8000, 11025, 16000, 22050, 44100, 48000, 88200, 96000, 176400, 192000, 384000};
    (void)state;
    for (size_t i = 0; i < sizeof rates / sizeof *rates; ++i) {
        const double rate = rates[i] / voicing_every(rates[i]);
        assert_true(rate >= 4250.0 && rate < 8500.0);
    }
}

/* Six partials, phases apart. */
static double agreement_of_note(double hz)
{
    Voicing v = {{0}};
    for (uint32_t k = 0; k < 600; ++k) {
        double x = 0.0;
        for (int h = 1; h <= 6 && h * hz < 1400.0; ++h)
            x += sin(2.0 * DSP_PI * h * hz * k / RATE + h * h) / h;
        voicing_push(&v, x > 0.0);
    }
    return voicing_agreement(&v, RATE);
}

static void a_note_agrees_with_itself(void **state)
{
    (void)state;
    double least = 1.0;
    for (double hz = 75.0; hz < 1050.0; hz *= 1.037)
        least = fmin(least, agreement_of_note(hz));
    figure_at_least("Voicing", "notes of 75 to 1050 Hz: least agreement", least, VOICING_CHANCE, "", "own limit");
}

/* Noise between 350 and 1400 Hz, as rest_bands.h gives it. */
static void noise_does_not(void **state)
{
    (void)state;
    const Biquad band = design_band_pass(700.0, 0.67, RATE);
    const Svf filter = svf_from_biquad(&band);
    SvfState memory = {0};
    Random random = random_stream(seeded(3), 0);
    Voicing v = {{0}};
    uint32_t over = 0;
    enum { LOOKS = 5000 };
    for (uint32_t k = 0; k < LOOKS * 40; ++k) {
        voicing_push(&v, svf_step(&filter, &memory, random_between(&random, -1.0, 1.0)) > 0.0);
        over += k > 1000 && k % 40 == 0 && voicing_agreement(&v, RATE) > VOICING_CHANCE;
    }
    figure_at_most("Voicing", "noise: looks that find a pitch", 100.0 * over / LOOKS, 0.1, "%", "own limit");
}

/* Nor does what follows silence. */
static void silence_is_no_note(void **state)
{
    (void)state;
    Voicing v = {{0}};
    uint32_t seed = seeded(4);
    assert_true(voicing_agreement(&v, RATE) == 0.0);
    for (uint32_t k = 0; k < 1000; ++k) {
        seed = seed * 1664525u + 1013904223u;
        voicing_push(&v, seed >> 31);
        assert_true(voicing_agreement(&v, RATE) < VOICING_CHANCE);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(signs_come_at_an_even_rate),
        cmocka_unit_test(a_note_agrees_with_itself),
        cmocka_unit_test(noise_does_not),
        cmocka_unit_test(silence_is_no_note),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
