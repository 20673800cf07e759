/* The plate's decay time, measured as ISO 3382-1:2009 measures a hall's: octave band filter, Schroeder's backward
 * integration E(t) = integral of h^2 from t on, a line fitted from -5 to -35 dB and extrapolated to 60 dB (T30). The
 * method is from memory; the standard was not opened. */
#include "ambience.h"
#include "figure.h"
#include "seeds.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

/* Noise under an exponential reads the exponential's decay time. */
static void meter_reads_a_known_decay(void **state)
{
    (void)state;
    enum { N = 96000 };
    float *h = malloc(N * sizeof *h);
    assert_non_null(h);
    uint32_t seed = seeded(1);
    for (uint32_t i = 0; i < N; ++i) {
        seed = seed * 1664525u + 1013904223u;
        h[i] = (float)((seed >> 8) / 8388608.0 - 1.0) * powf(10.f, -3.f * (float)i / 48000.f / 1.5f);
    }
    double t30[2];
    ambience_t30(&(Response){48000.0, N, {h, h}}, 1000.0, t30);
    figure_within("Plate", "T30 meter: noise that decays in 1.5 s", t30[0], 1.5, 0.075, "s",
                  "ISO 3382-1 T30 [M]; wide: noise by noise it scatters by 2 %");
    free(h);
}

static double farther(double off, double worst)
{
    return fabs(off) > fabs(worst) ? off : worst;
}

static double worst_off(ResponseInput input, double rate, double damping)
{
    static const double decay[] = {0.5, 0.7, 1.0, 1.4, 2.2, 4.0, 8.0}, octave[] = {500.0, 1000.0};
    double worst = 0.0;
    for (size_t d = 0; d < sizeof decay / sizeof *decay; ++d) {
        Response r;
        response_take_from(&r, plate_tables_seed(rate), input, rate, decay[d], damping, decay[d]);
        for (int o = 0; o < 2; ++o) {
            double t30[2];
            ambience_t30(&r, octave[o], t30);
            for (int c = 0; c < 2; ++c)
                worst = farther(100.0 * (t30[c] / decay[d] - 1.0), worst);
        }
        response_free(&r);
    }
    return worst;
}

static void decay_is_what_was_asked_for(void **state)
{
    (void)state;
    static const double rates[] = {44100, 48000, 88200, 96000, 176400, 192000}, damping[] = {4000, 6500, 20000};
    for (size_t k = 0; k < sizeof rates / sizeof *rates; ++k)
        for (int d = 0; d < 3; ++d) {
            double worst = 0.0;
            for (int input = 0; input < RESPONSE_INPUTS; ++input)
                worst = farther(worst_off((ResponseInput)input, rates[k], damping[d]), worst);
            char what[100];
            snprintf(what, sizeof what, "T30 off the control, 0.5-8 s, 500 Hz and 1 kHz, damping %gk, at %.4gk",
                     damping[d] / 1000.0, rates[k] / 1000.0);
            figure_within("Plate", what, worst, 0.0, 10.0, "%", "ISO 3382-1 T30 [M]");
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(meter_reads_a_known_decay),
        cmocka_unit_test(decay_is_what_was_asked_for),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
